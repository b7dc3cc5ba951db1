#!/usr/bin/env bash
# Tries all that the packages promise, of what is committed, as root on a Debian:
#
#   deploy/tries.sh [MACHINE…]     amd64, arm64 and armhf by default
#
# Built twice, from two copies of the tree, the second time with an empty build
# cache, they must be the same bytes; lintian must find no error; and in a Debian of
# each kind try.sh installs the version before, upgrades it, removes and purges it,
# and boot.sh upgrades a running one and follows the pages on a booted Debian (amd64
# alone). Other kinds are emulated: where the kernel doesn't know how yet, it is
# told. It needs debootstrap, lintian, qemu-user-static and systemd-container, takes
# a quarter of an hour, and keeps the Debians in CONDITIOND_TRIES
# (/var/tmp/conditiond-tries).
set -euo pipefail
cd "$(dirname "$0")/.."
machines=("$@")
[ $# -gt 0 ] || machines=(amd64 arm64 armhf)
debians=${CONDITIOND_TRIES:-/var/tmp/conditiond-tries}
work=$(mktemp -d /var/tmp/conditiond-build.XXXXXX)
trap 'chmod -R u+w "$work"; rm -rf "$work"' EXIT

version() { sed -n '1s/.*(\(.*\)).*/\1/p' "$1/deploy/debian/changelog"; }
copy() { git clone -q . "$work/$1" && git -C "$work/$1" checkout -q "$2"; } # NAME COMMIT
build() { (cd "$work/$1" && deploy/package.sh "${machines[@]}" >/dev/null); }
deb() { echo "$work/$1/dist/conditiond_$(version "$work/$1")_$2.deb"; }

# emulate a kind of machine, from what qemu-user-static says of it.
emulate() { # QEMU'S NAME
  local register=/proc/sys/fs/binfmt_misc of=/usr/share/binfmts/qemu-$1
  [ -e "$register/register" ] || mount -t binfmt_misc binfmt_misc "$register"
  [ -e "$register/qemu-$1" ] ||
    echo ":qemu-$1:M::$(sed -n 's/^magic //p' "$of"):$(sed -n 's/^mask //p' "$of"):/usr/bin/qemu-$1-static:F" >"$register/register"
}

echo "== the same bytes twice"
copy one HEAD
copy two HEAD
build one
GOCACHE=$work/cache build two
diff "$work/one/dist/SHA256SUMS" "$work/two/dist/SHA256SUMS"
cat "$work/one/dist/SHA256SUMS"

echo "== lintian"
for m in "${machines[@]}"; do lintian --allow-root --fail-on error "$(deb one "$m")"; done
echo "no error"

now=$(version .)
copy before "$(git log --format=%H -S"conditiond ($now)" -- deploy/debian/changelog | tail -1)^"
build before
for m in "${machines[@]}"; do
  echo "== $m: $(version "$work/before") to $now"
  case $m in
  arm64) emulate aarch64 ;;
  armhf) emulate arm ;;
  esac
  deploy/try.sh "$(deb before "$m")" "$(deb one "$m")" "$debians/$m"
done
case " ${machines[*]} " in *" amd64 "*)
  echo "== booted"
  deploy/boot.sh "$(deb one amd64)" "$debians/booted" "$(deb before amd64)"
  ;;
esac
