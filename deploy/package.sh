#!/usr/bin/env bash
# Builds the Debian packages and tarballs, with checksums, into dist:
#
#   deploy/package.sh            all machines
#   deploy/package.sh amd64      one of armhf (ARMv6), arm64, amd64
#
# The version is that of deploy/debian/changelog, every file carries its date, and
# the same tree gives the same bytes.
set -euo pipefail
cd "$(dirname "$0")/.."
machines=("${@:-}")
[ -n "${machines[0]}" ] || machines=(armhf arm64 amd64)

export LC_ALL=C TZ=UTC
VERSION=$(sed -n '1s/.*(\(.*\)).*/\1/p' deploy/debian/changelog)
changed=$(sed -n 's/^ -- .*>  //p' deploy/debian/changelog | head -1)
SOURCE_DATE_EPOCH=$(date -d "$changed" +%s)
MTIME=$(date -u -d "@$SOURCE_DATE_EPOCH" +%FT%TZ)
export VERSION SOURCE_DATE_EPOCH MTIME

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p dist

build() { # GOARCH [GOARM] OUT
  CGO_ENABLED=0 GOOS=linux GOARCH=$1 GOARM=${3:-} go build -trimpath -ldflags "-s -w" -o "$2" ./cmd/conditiond
}

# modules that the program holds, with their licences.
modules() {
  go list -deps -f '{{with .Module}}{{if .Version}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}' ./cmd/conditiond | sort -u |
    while read -r path version dir; do
      printf '==== %s %s\n\n' "$path" "$version"
      cat "$dir"/LICEN[CS]E* "$dir"/COPYING* 2>/dev/null || echo "(no licence file)"
      echo
    done
  printf '==== uPlot, in the page\n\n'
  cat daemon/web/page/uplot/LICENSE
}

# pages are what is the same on every machine: manual, completions, documents.
pages() { # TREE
  local doc=$1/usr/share/doc/conditiond
  mkdir -p "$doc"/{deploy,examples} "$1"/usr/share/{man/man1,bash-completion/completions,zsh/vendor-completions,fish/vendor_completions.d,lintian/overrides}
  "$work/here" man "$1/usr/share/man/man1" --date "${MTIME%T*}"
  "$work/here" completion bash >"$1/usr/share/bash-completion/completions/conditiond"
  "$work/here" completion zsh >"$1/usr/share/zsh/vendor-completions/_conditiond"
  "$work/here" completion fish >"$1/usr/share/fish/vendor_completions.d/conditiond.fish"
  cp deploy/debian/overrides "$1/usr/share/lintian/overrides/conditiond"
  cp deploy/debian/copyright "$doc/copyright"
  cp deploy/debian/changelog "$doc/changelog"
  modules >"$doc/modules.txt"
  cp README.md "$doc/"
  cp deploy/*.md "$doc/deploy/"
  cp config.example.yaml deploy/mosquitto.conf "$doc/examples/"
  gzip -9n "$doc/changelog" "$doc/modules.txt" "$1"/usr/share/man/man1/*
}

units() { # TREE BINARY
  mkdir -p "$1/usr/lib/systemd/system"
  for unit in deploy/*.service deploy/*.timer; do
    sed "s,/usr/local/bin/conditiond,$2," "$unit" >"$1/usr/lib/systemd/system/$(basename "$unit")"
  done
}

settle() { find "$1" -exec touch -h -d "@$SOURCE_DATE_EPOCH" {} +; chmod -R u=rwX,go=rX "$1"; }

package() { # MACHINE GOARCH [GOARM]
  export ARCH=$1 TREE=$work/$1
  mkdir -p "$TREE/usr/bin"
  build "$2" "$TREE/usr/bin/conditiond" "${3:-}"
  cp -r "$work/pages/." "$TREE"
  units "$TREE" /usr/bin/conditiond
  settle "$TREE"
  (cd deploy/package && "$work/nfpm" package --packager deb --config nfpm.yaml --target "$OLDPWD/dist/conditiond_${VERSION}_$1.deb" >"$work/log" || { cat "$work/log"; exit 1; })
  tarball "$1"
}

# tarball for systems without Debian's packages: bin, share, units.
tarball() { # MACHINE
  local name=conditiond-$VERSION-linux-$1 tree=$work/tar/conditiond-$VERSION-linux-$1
  mkdir -p "$tree/deploy"
  cp "$work/$1/usr/bin/conditiond" LICENSE README.md config.example.yaml "$tree"
  cp -r "$work/$1/usr/share" "$tree/share"
  rm -r "$tree/share/lintian"
  cp deploy/*.service deploy/*.timer deploy/mosquitto.conf deploy/*.md "$tree/deploy"
  settle "$tree"
  tar -C "$work/tar" --sort=name --owner=0 --group=0 --numeric-owner --format=gnu -cf - "$name" | gzip -9n >"dist/$name.tar.gz"
}

CGO_ENABLED=0 go build -tags pages -o "$work/here" ./cmd/conditiond
(cd deploy/package && CGO_ENABLED=0 go build -o "$work/nfpm" github.com/goreleaser/nfpm/v2/cmd/nfpm)
pages "$work/pages"
for m in "${machines[@]}"; do
  case $m in
  armhf) package armhf arm 6 ;;
  arm64) package arm64 arm64 ;;
  amd64) package amd64 amd64 ;;
  *) echo "package.sh: $m: armhf, arm64 or amd64 would be right" >&2 && exit 2 ;;
  esac
done
(cd dist && sha256sum conditiond[_-]"$VERSION"* >"SHA256SUMS" && cat SHA256SUMS)
