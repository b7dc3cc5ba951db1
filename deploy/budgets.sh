#!/usr/bin/env bash
# Measures how much of a machine conditiond takes, and writes deploy/budgets.md:
#
#   deploy/budgets.sh
#
# It needs mosquitto's clients, sqlite3, and qemu-arm-static for the emulated
# board. The year of journal takes a quarter of an hour and a gigabyte below
# TMPDIR, which should be on a disk; CONDITIOND_YEAR=FOLDER keeps it for the next
# time.
set -euo pipefail
cd "$(dirname "$0")/.."
work=$(mktemp -d)
pid=
trap '[ -z "$pid" ] || kill "$pid" 2>/dev/null || true; rm -rf "$work"' EXIT

build() { CGO_ENABLED=0 GOOS=linux GOARCH=$1 GOARM=${2:-} go build -trimpath -ldflags "-s -w" -o "$work/$1" ./cmd/conditiond; }
size() { awk -v b="$(stat -c %s "$work/$1")" 'BEGIN { printf "%.1f MB", b / 1e6 }'; }
peak() { awk '/VmHWM/ { printf "%.1f MB", $2 * 1024 / 1e6 }' "/proc/$pid/status"; }
rss() { awk '/VmRSS/ { printf "%.1f MB", $2 * 1024 / 1e6 }' "/proc/$pid/status"; }
ticks() { awk '{ print $14 + $15 }' "/proc/$pid/stat"; }

# start the daemon by this command, and say in ms how long it took until it was
# subscribed and journalling.
start() {
  mqtt=$((20000 + RANDOM % 5000)) page=$((26000 + RANDOM % 5000))
  {
    echo "site: {name: Budget, timezone: UTC}"
    echo "mqtt: {listen: \"127.0.0.1:$mqtt\"}"
    echo "web: {listen: \"127.0.0.1:$page\"}"
    echo "journal: {dir: $work/journal}"
    echo "sensors:"
    echo "  air: {topic: air, quantity: temperature, unit: degC, interval: 1m}"
    for i in 0 1 2 3 4 5 6 7 8 9; do
      echo "  gauge-$i: {topic: gauge-$i, quantity: pressure, unit: bar, full_scale: 10, interval: 1m}"
    done
    echo "spaces: {closet: {temperature: air}}"
  } >"$work/config.yaml"
  mkdir -p "$work/journal"
  local began
  began=$(date +%s%3N)
  "$@" run --config "$work/config.yaml" 2>"$work/log" &
  pid=$!
  for _ in $(seq 1 3000); do
    if curl -sf "http://127.0.0.1:$page/readyz" >/dev/null; then
      took=$(($(date +%s%3N) - began))
      return
    fi
    sleep 0.02
  done
  cat "$work/log" >&2
  return 1
}

end() {
  kill "$pid"
  wait "$pid" || true
  pid=
}

ten_lots() {
  for i in 0 1 2 3 4 5 6 7 8 9; do
    cat >"$work/lot.yaml" <<LOT
id: invented-$i
name: Invented ale $i
space: closet
packaged_at: $(date -u -d '20 days ago' +%FT%TZ)
yeast: ale
beer: {volume_l: 19.0, original_gravity: 1.050, final_gravity: 1.012, warmest_c: 20}
target_volumes: 2.4
priming: [{sugar: sucrose, mass_g: 115}]
bottles: [{kind: standard-glass, volume_ml: 330, headspace_ml: 14, count: 57, rated_bar: 5}]
gauge_bottle: {sensor: gauge-$i, volume_ml: 330, headspace_ml: 14}
worst_case_c: 30
LOT
    "$work/amd64" lot open --config "$work/config.yaml" "$work/lot.yaml" >/dev/null
  done
  for n in 1 2 3 4 5; do
    mosquitto_pub -h 127.0.0.1 -p "$mqtt" -q 1 -t air -m "19.$n"
    for i in 0 1 2 3 4 5 6 7 8 9; do mosquitto_pub -h 127.0.0.1 -p "$mqtt" -q 1 -t "gauge-$i" -m "1.2$n"; done
  done
}

# test of the endurance tests, and what it logged.
endure() { go test -tags endurance -run "^$1\$" -v -timeout 90m ./daemon | tee "$work/log" >&2 && grep -h "_test.go" "$work/log"; }
megabytes() { sed -n 's/.*: \([0-9.]*\) MB.*/\1 MB/p'; }

# look at all that a person would, at the end of a day.
look() {
  for path in / /api/v1/lots /api/v1/alerts "/api/v1/readings?sensor=air&limit=10000" /metrics; do
    curl -sf -o /dev/null "http://127.0.0.1:$page$path"
  done
  curl -s "http://127.0.0.1:$page/api/v1/lots" | grep -o '"id":"invented-[^".]*"' | cut -d'"' -f4 | sort -u | while read -r lot; do
    curl -sf -o /dev/null "http://127.0.0.1:$page/lots/$lot"
    curl -sf -o /dev/null "http://127.0.0.1:$page/api/v1/lots/$lot/series"
  done
}

build amd64
build arm64
build arm 6

start "$work/amd64"
began=$took at_start=$(rss)
ten_lots
sleep 20
with_lots=$(rss)
before=$(ticks)
sleep 20
idle=$(awk -v t="$(($(ticks) - before))" -v hz="$(getconf CLK_TCK)" 'BEGIN { printf "%.1f %%", 100 * t / hz / 20 }')
end

year=${CONDITIOND_YEAR:-$work/year}
[ -f "$year/journal.db" ] || CONDITIOND_YEAR=$year endure TestAYear >/dev/null
rm -rf "$work/journal"
cp -r "$year" "$work/journal"
readings=$(sqlite3 "$work/journal/journal.db" "SELECT count(*) FROM reading r JOIN series s ON s.id = r.series WHERE s.name NOT LIKE 'lot/%'")
year_size=$(du -m "$work/journal/journal.db" | cut -f1)
start "$work/amd64"
year_began=$took year_at_start=$(rss)
sleep 20
year_soon=$(rss)
look
year_looked=$(rss)
sleep 60
year_rest=$(rss)
year_peak=$(peak)
end
written=$(endure TestADayOnTheCard | megabytes)

emulated="not measured" emulated_year="not measured"
if command -v qemu-arm-static >/dev/null; then
  start qemu-arm-static -cpu arm1176 "$work/arm"
  emulated_year="$took ms"
  end
  rm -rf "$work/journal"
  start qemu-arm-static -cpu arm1176 "$work/arm"
  emulated="$took ms"
  end
fi

cat >deploy/budgets.md <<PAGE
# Budgets

How much of a machine it takes. Kept by \`deploy/budgets.sh\`, last on $(date -u +%F), on $(nproc) cores of $(uname -m); other work may have run beside it.

| what | budget | measured |
| --- | --- | --- |
| binary, ARMv6 | 25 MB | $(size arm) |
| binary, arm64 | 25 MB | $(size arm64) |
| binary, amd64 | 25 MB | $(size amd64) |
| resident memory at start | 40 MB | $at_start |
| resident memory with ten lots, each with a gauge | 40 MB | $with_lots |
| processor, ten lots, between readings | 1 % of a core | $idle |
| a year of journal, ten lots at a time, eleven sensors a minute: $readings readings | 1 GB | $year_size MB |
| resident memory with that year and its ten lots, at start | 40 MB | $year_at_start |
| the same, twenty seconds later | 40 MB | $year_soon |
| the same, when every page and chart was looked at | | $year_looked |
| the same, a minute later | 40 MB | $year_rest |
| the most that it was in all this | | $year_peak |
| written to the disk by a day of ten sensors a minute | 60 MB | $written |
| from start until subscribed and journalling | 2 s | $began ms |
| the same, with a year of journal | 2 s | $year_began ms |
| ARMv6 program under emulation (arm1176), from start until subscribed | 10 s | $emulated |
| the same, with a year of journal | | $emulated_year |

Memory is what \`/proc\` calls VmRSS, processor what it counts as user and system time, of the amd64 program as the package holds it; a MB is a million bytes. With the year, the daemon starts on a journal as a power cut leaves it. An ARMv6 board was not measured: emulation says that the program runs there, not how fast.
PAGE
cat deploy/budgets.md
