#!/usr/bin/env bash
# Replays lots as this machine does and as an ARMv6 and an arm64 would (by
# qemu-user-static), and says whether they come to the same bytes. A difference
# in the last digits may turn a decision of chance some day: then look at the
# lines shown, and hold them against the width of their intervals.
#   deploy/machines.sh [LOT…]   (folders with config.yaml, lot.yaml and
#                                messages.ndjson.gz; none = two invented ones)
set -euo pipefail
cd "$(dirname "$0")/.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export CGO_ENABLED=0
go build -o "$work/native" ./cmd/conditiond
GOARCH=arm64 go build -o "$work/arm64" ./cmd/conditiond
GOARCH=arm GOARM=6 go build -o "$work/armv6" ./cmd/conditiond

# replay FOLDER COMMAND…
replay() {
  local lot=$1
  shift
  "$@" replay --config "$lot/config.yaml" --lot "$lot/lot.yaml" --every 6h "$lot/messages.ndjson.gz"
}

lots=("$@")
if [ ${#lots[@]} = 0 ]; then
  for family in healthy-gauge leak-later; do
    "$work/native" simulate --family "$family" --seed 5 --days 20 --out "$work/$family" >/dev/null
    lots+=("$work/$family/invented-5-000")
  done
fi

differs=0
# compare LOT MACHINE COMMAND…
compare() {
  local lot=$1 machine=$2
  shift 2
  replay "$lot" "$@" >"$work/$machine.ndjson"
  if cmp -s "$work/native.ndjson" "$work/$machine.ndjson"; then
    echo "$lot, $machine: the same $(wc -l <"$work/native.ndjson") lines"
  else
    differs=1
    echo "$lot, $machine: these lines differ"
    diff "$work/native.ndjson" "$work/$machine.ndjson" || true
  fi
}

for lot in "${lots[@]}"; do
  replay "$lot" "$work/native" >"$work/native.ndjson"
  compare "$lot" arm64 qemu-aarch64-static "$work/arm64"
  compare "$lot" armv6 qemu-arm-static -cpu arm1176 "$work/armv6"
done
exit $differs
