#!/usr/bin/env bash
# Tries packages that deploy/package.sh built in a fresh Debian, as root:
#
#   deploy/try.sh OLD.deb NEW.deb [chroot]
#
# Installs OLD, uses it, upgrades to NEW, removes, installs again, purges, and
# says what held at each step; ends with 1 at the first thing that doesn't hold.
# The chroot is made with debootstrap when it isn't there. Nothing runs systemd
# in there: what the units do is not tried here.
set -euo pipefail
old=$1 new=$2 root=${3:-/tmp/chroot-amd64}
machine=$(dpkg-deb -f "$new" Architecture)
case $machine in armhf) cpu=arm1176 ;; arm64) cpu=cortex-a53 ;; *) cpu=host ;; esac

if [ ! -e "$root/etc/debian_version" ]; then
  debootstrap --variant=minbase --arch="$machine" --include=adduser,init-system-helpers,man-db bookworm "$root" >/dev/null
fi
within() { chroot "$root" /usr/bin/env DEBIAN_FRONTEND=noninteractive PATH=/usr/sbin:/usr/bin:/sbin:/bin "$@"; }
holds() { # WHAT COMMAND…
  local what=$1
  shift
  if "$@" >/tmp/try.log 2>&1; then echo "ok: $what"; else
    echo "NOT: $what"
    cat /tmp/try.log
    exit 1
  fi
}
fails() { ! "$@"; }
install_deb() { cp "$1" "$root/tmp/it.deb" && within dpkg -i /tmp/it.deb; }
state() { within stat -c '%U:%G %a' "$1"; }
# selftest on the smallest board's processor, where that is emulated.
selftest() {
  holds "selftest as that user ($cpu)" within setpriv --reuid=conditiond --regid=conditiond --clear-groups env QEMU_CPU=$cpu conditiond selftest
  sed 's/^/    /' /tmp/try.log
}
is() { [ "$("${@:2}")" = "$1" ]; }

mountpoint -q "$root/proc" || mount -t proc proc "$root/proc"
trap 'umount "$root/proc"' EXIT
within dpkg --purge conditiond >/dev/null 2>&1 || true

holds "install $(dpkg-deb -f "$old" Version) ($machine)" install_deb "$old"
holds "the user is there" within id conditiond
holds "the state's folder is the user's" is "conditiond:conditiond 750" state /var/lib/conditiond
holds "the secrets' folder is root's alone" is "root:root 700" state /etc/conditiond/secrets
holds "the service starts with the machine" test -L "$root/etc/systemd/system/multi-user.target.wants/conditiond.service"
holds "the copies too" test -L "$root/etc/systemd/system/timers.target.wants/conditiond-backup.timer"
holds "the probe doesn't" test ! -e "$root/etc/systemd/system/multi-user.target.wants/conditiond-probe.service"
selftest
holds "manual page" within man -P cat conditiond-probe
holds "completions" within bash -n /usr/share/bash-completion/completions/conditiond

cp "$(dirname "$0")/../config.example.yaml" "$root/etc/conditiond/config.yaml"
echo "kept" >"$root/etc/conditiond/secrets/mqtt"
echo 'PROBE_OPTIONS="--interval 2m"' >"$root/etc/default/conditiond"
cat >"$root/tmp/lot.yaml" <<LOT
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
holds "a configuration checks" within conditiond check --config /etc/conditiond/config.yaml
holds "a lot opens" within setpriv --reuid=conditiond --regid=conditiond --clear-groups conditiond lot open /tmp/lot.yaml
knows() { within setpriv --reuid=conditiond --regid=conditiond --clear-groups conditiond status --json | grep -q invented-ale; }
holds "a copy is written" within setpriv --reuid=conditiond --regid=conditiond --clear-groups conditiond backup /var/backups/conditiond/conditiond-try.db

holds "upgrade to $(dpkg-deb -f "$new" Version)" install_deb "$new"
selftest
holds "the lot is still there" knows
holds "configuration and secret are untouched" cmp "$root/etc/conditiond/config.yaml" "$(dirname "$0")/../config.example.yaml"
holds "and the changed options" grep -q 2m "$root/etc/default/conditiond"

holds "remove" within dpkg --remove conditiond
holds "the program is gone" test ! -e "$root/usr/bin/conditiond"
holds "journal, copies, configuration and secrets stay" test -s "$root/var/lib/conditiond/journal.db" -a -s "$root/var/backups/conditiond/conditiond-try.db" -a -s "$root/etc/conditiond/config.yaml" -a -s "$root/etc/conditiond/secrets/mqtt"
holds "install again" install_deb "$new"
holds "the lot is still there" knows
holds "the service starts with the machine" test -L "$root/etc/systemd/system/multi-user.target.wants/conditiond.service"

holds "no unit is masked" test ! -e "$root/etc/systemd/system/conditiond-probe.service"

holds "purge" within dpkg --purge conditiond
left() { find "$root/etc" "$root/usr" "$root/var/lib" "$root/var/backups" -name '*conditiond*' -not -path '*/dpkg/*' | grep .; }
holds "nothing is left" fails left
holds "nor the user" fails within id conditiond
echo "all of it held"
