#!/usr/bin/env bash
# Looks at the container files as far as a machine without a container engine can,
# as root:
#
#   deploy/container/check.sh
#
# The Dockerfile must pass BuildKit's linter, compose.yaml the compose
# specification's own library. Then the Dockerfile's commands build the image's tree
# from what the build would see, and the program is run in it, as the image's user
# and with nothing else there: its self-test, the configuration of compose.yaml, and
# the daemon with its health check.
set -euo pipefail
cd "$(dirname "$0")/../.."
work=$(mktemp -d /var/tmp/conditiond-image.XXXXXX)
trap 'rm -rf "$work"' EXIT
here=$PWD/deploy/container

(cd "$here/testdata/check" && go build -o "$work/check" .)
"$work/check" "$here/compose.yaml" "$here/Dockerfile" >"$work/commands"
echo "ok: compose.yaml and Dockerfile"

# what the build sees: the tree, but for what Dockerfile.dockerignore names.
git ls-files -z | grep -zv -E '(^|/)testdata/|_test\.go$' | tar --null -T - -cf - | tar -C "$work" --one-top-level=context -xf -
sed -i "s, /tree, $work/tree,g" "$work/commands"
(cd "$work/context" && TARGETARCH=$(go env GOHOSTARCH) TARGETVARIANT= sh -eux "$work/commands")
echo "ok: the tree is built: $(du -sh "$work/tree" | cut -f1)"

inside() { chroot --userspec=10001:10001 "$work/tree" /usr/bin/conditiond "$@"; }
inside selftest | tail -1
mkdir -p "$work/tree/run/secrets"
for s in mqtt web influx; do echo invented >"$work/tree/run/secrets/$s"; done
cp "$here/config.yaml" "$work/tree/etc/conditiond/config.yaml"
inside check --config /etc/conditiond/config.yaml

# The daemon, without its neighbours, on a network of its own. The page answers
# before the health check is asked, which would look at the journal itself.
unshare --net bash -cu '
  inside() { exec chroot --userspec=10001:10001 "$1/tree" /usr/bin/conditiond "${@:2}" --config /etc/conditiond/config.yaml; }
  ip link set lo up
  inside "$1" run 2>"$1/log" &
  for _ in $(seq 1 50); do
    sleep 0.2
    if curl -sf http://127.0.0.1:8080/healthz >/dev/null; then
      (inside "$1" status) && kill $! && wait $! && exit 0
      break
    fi
  done
  cat "$1/log"
  exit 1' bash "$work"
echo "ok: the daemon runs there, answers its health check and ends when it is told to"
