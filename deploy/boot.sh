#!/usr/bin/env bash
# Boots a Debian, as root, and follows the pages here on it with a package that
# deploy/package.sh built:
#
#   deploy/boot.sh NEW.deb [TREE [OLD.deb]]
#
# Where there is an older one, that runs first and is upgraded. It says what held at each step, and ends with 1 at the first thing that doesn't.
# TREE is made with debootstrap when it isn't there; systemd-nspawn boots a copy of
# it, without a network, that is thrown away.
set -euo pipefail
new=$1 tree=${2:-/var/tmp/conditiond-tries/booted} old=${3:-}
work=$(mktemp -d /var/tmp/conditiond-boot.XXXXXX)
log=$work/log
booted=
leave() {
  [ -z "$booted" ] || { kill "$booted" && wait "$booted"; } || true
  rm -rf "$work"
}
trap leave EXIT

if [ ! -e "$tree/etc/debian_version" ]; then
  debootstrap --variant=minbase --include=adduser,init-system-helpers,man-db,systemd,systemd-sysv,dbus,sudo,openssl,curl,ca-certificates,mosquitto,mosquitto-clients bookworm "$tree" >/dev/null
fi
cp -a --reflink=auto "$tree" "$work/root"
echo "127.0.0.1 localhost $(uname -n)" >"$work/root/etc/hosts"
cp "$new" "$work/root/root/it.deb"
systemd-nspawn -q -D "$work/root" --register=no --keep-unit --private-network --boot >"$work/console" 2>&1 </dev/null &
booted=$!

# on the booted machine, run a command, or a script given as text.
on() {
  nsenter -t "$(pgrep -P "$booted" | head -1)" -a -- env -i PATH=/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin HOME=/root TERM=dumb DEBIAN_FRONTEND=noninteractive "$@"
}
sh() { on bash -ceu "$1"; }
holds() { # WHAT SCRIPT
  if sh "$2" >"$log" 2>&1; then echo "ok: $1"; else
    echo "NOT: $1"
    cat "$log"
    sh 'journalctl -u conditiond --no-pager -o cat -n 20' || true
    exit 1
  fi
}
soon() { # WHAT SCRIPT: within a minute and a half
  for _ in $(seq 1 90); do
    if sh "$2" >"$log" 2>&1; then echo "ok: $1"; return; fi
    sleep 1
  done
  holds "$@"
}

soon "a Debian boots" 'systemctl is-system-running | grep -q -E "running|degraded"'

upgrade() {
  cp "$old" "$work/root/root/old.deb"
  holds "the version before runs" 'cd /root && apt-get install -y ./old.deb && cat >/etc/conditiond/config.yaml <<CONFIG
mqtt: {broker: "mqtt://127.0.0.1:1883"}
sensors:
  air: {topic: air, quantity: temperature, unit: degC, interval: 1m}
spaces: {stairs: {temperature: air}}
CONFIG
    systemctl start conditiond && systemctl is-active conditiond'
  lot_yaml | sh 'cat >/root/lot.yaml'
  holds "with a lot" 'conditiond lot open /root/lot.yaml && systemctl show -p MainPID --value conditiond >/root/before'
  holds "upgraded, the new one runs, and nothing was asked" 'cd /root && apt-get install -y ./it.deb </dev/null && systemctl is-active conditiond &&
    [ "$(systemctl show -p MainPID --value conditiond)" != "$(cat /root/before)" ] && grep -q "topic: air" /etc/conditiond/config.yaml'
  holds "the lot is still there" 'sudo conditiond status | grep -q invented-ale'
  holds "purged, for what follows" 'apt-get purge -y conditiond'
}

lot_yaml() {
  cat <<LOT
id: invented-ale
name: Invented ale
space: stairs
packaged_at: $(date -u -d '1 hour ago' +%FT%TZ)
yeast: ale
beer: {volume_l: 19.0, original_gravity: 1.050, final_gravity: 1.012, warmest_c: 20}
target_volumes: 2.4
priming: [{sugar: sucrose, mass_g: 115}]
bottles: [{kind: standard-glass, volume_ml: 330, headspace_ml: 14, count: 57, rated_bar: 5}]
worst_case_c: 30
LOT
}

[ -z "$old" ] || upgrade

# pi.md
holds "the package is installed" 'cd /root && apt-get install -y ./it.deb'
holds "without a configuration the service waits, which is no fault" '! systemctl is-failed conditiond && ! systemctl is-active conditiond'
holds "the program tries itself on this machine" 'conditiond selftest'
holds "Mosquitto by the lines of the page" '
  touch /etc/mosquitto/passwd
  chown root:mosquitto /etc/mosquitto/passwd
  chmod 640 /etc/mosquitto/passwd
  mosquitto_passwd -b /etc/mosquitto/passwd conditiond invented-c
  mosquitto_passwd -b /etc/mosquitto/passwd sensors invented-s
  cp /usr/share/doc/conditiond/examples/mosquitto.conf /etc/mosquitto/conf.d/conditiond.conf
  systemctl restart mosquitto'
sh 'cat >/root/device.sh' <<'DEVICE'
while sleep 1; do
  mosquitto_pub -h 127.0.0.1 -u sensors -P invented-s -q 1 -t stairs/climate -m '{"temperature":19.63}'
  mosquitto_pub -h 127.0.0.1 -u sensors -P invented-s -q 1 -t stairs/gauge-a -m '{"bar":0.4}'
done
DEVICE
holds "a device sends" 'systemd-run --quiet bash /root/device.sh'
holds "setup, from its questions to a configuration" 'printf "%s\n" "Invented closet" "" 90 "" conditiond invented-c \
  1 stairs-air temperature degC stairs 2 gauge-a pressure bar gauge 10 done network invented-w none | sudo conditiond setup --listen 8s'
holds "it checks" 'conditiond check --config /etc/conditiond/config.yaml'
holds "the service starts" 'systemctl restart conditiond && systemctl is-active conditiond'
{ lot_yaml && echo "gauge_bottle: {sensor: gauge-a, volume_ml: 500, headspace_ml: 20}"; } | sh 'cat >/root/lot.yaml'
holds "a lot opens by the running service, with its password" 'sudo conditiond lot open /root/lot.yaml && sudo conditiond status | grep -q invented-ale'
soon "its readings arrive" 'curl -sf -u me:invented-w "http://127.0.0.1:8080/api/v1/readings?sensor=gauge-a" | grep -q 0.4'
holds "the page asks for the password" '[ "$(curl -s -o /dev/null -w "%{http_code}" http://127.0.0.1:8080/)" = 303 ]'
holds "the probe's service starts, without a sensor too" 'systemctl start conditiond-probe && systemctl stop conditiond-probe'

# keeping.md
holds "the nightly copy is written" 'systemctl start conditiond-backup && ls /var/backups/conditiond/conditiond-*.db'
holds "a copy by hand" 'sudo -u conditiond conditiond backup /var/backups/conditiond/by-hand.db'
holds "to a new card: what matters is put aside" 'systemctl stop conditiond && mkdir -p /mnt/stick && cp /var/backups/conditiond/by-hand.db /mnt/stick/ &&
  tar -C / -czf /mnt/stick/conditiond-etc.tar.gz etc/conditiond etc/default/conditiond'
holds "the old card is gone" 'apt-get purge -y conditiond && [ ! -e /etc/conditiond ] && [ ! -e /var/lib/conditiond ]'
holds "on the new one it is put back" 'cd /root && apt-get install -y ./it.deb && systemctl stop conditiond && tar -C / -xzf /mnt/stick/conditiond-etc.tar.gz &&
  sudo -u conditiond conditiond restore /mnt/stick/by-hand.db && systemctl start conditiond && sudo conditiond status | grep -q invented-ale'

# security.md
holds "the page by TLS" '
  cd /root
  openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 365 -subj /CN=pi -addext subjectAltName=DNS:pi.local -keyout page.key -out page.pem
  install -d -m 750 -g conditiond /etc/conditiond/tls
  install -m 644 page.pem /etc/conditiond/tls/page.pem
  install -m 640 -g conditiond page.key /etc/conditiond/tls/page.key
  sed -i "/password_file: .*\/web/a\  certificate_file: /etc/conditiond/tls/page.pem\n  key_file: /etc/conditiond/tls/page.key" /etc/conditiond/config.yaml
  conditiond check --config /etc/conditiond/config.yaml
  systemctl restart conditiond
  curl -sf --cacert page.pem --resolve pi.local:8080:127.0.0.1 https://pi.local:8080/login -o /dev/null'
holds "an access list at the broker" 'printf "user sensors\ntopic write stairs/#\nuser conditiond\ntopic read #\ntopic readwrite conditiond/#\ntopic write probe/#\n" >/etc/mosquitto/acl &&
  echo "acl_file /etc/mosquitto/acl" >>/etc/mosquitto/conf.d/conditiond.conf && systemctl restart mosquitto && sleep 3 && sudo conditiond status'
holds "the units verify" 'systemd-analyze verify conditiond.service conditiond-probe.service conditiond-backup.service conditiond-backup.timer 2>&1 | tee /root/v && [ ! -s /root/v ]'
for unit in conditiond conditiond-probe conditiond-backup; do
  holds "$unit is confined" "systemd-analyze security $unit --no-pager --threshold=15 | tail -1"
  grep -o 'level for .*: [0-9.]*' "$log" | sed 's/^/    exposure /'
done

# what the unit promises
holds "it is killed" 'kill -9 "$(systemctl show -p MainPID --value conditiond)"'
soon "and starts again" 'systemctl is-active conditiond && sudo conditiond status | grep -q invented-ale'
holds "it stands still" 'systemctl show -p MainPID --value conditiond >/root/stuck && kill -STOP "$(cat /root/stuck)"'
soon "and the watchdog starts it again" '[ "$(systemctl show -p MainPID --value conditiond)" != "$(cat /root/stuck)" ] && systemctl is-active conditiond'
holds "removed, it leaves what was kept" 'apt-get remove -y conditiond && [ -s /var/lib/conditiond/journal.db ] && [ -s /etc/conditiond/config.yaml ] && ! systemctl is-active conditiond'
holds "purged, it leaves nothing" 'apt-get purge -y conditiond && ! find / -xdev -name "*conditiond*" -not -path "/proc/*" -not -path "*/dpkg/*" -not -path "/mnt/*" -not -path "/var/log/*" -not -path "/var/cache/man/*" -not -path "/etc/mosquitto/*" | grep .'
echo "all of it held"
