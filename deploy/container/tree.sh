#!/bin/sh
# What an image needs beside the program: certificates, the user's name, a place
# for the journal and one for temporary files.
set -eu
tree=$1
mkdir -p "$tree/etc/ssl/certs" "$tree/etc/conditiond" "$tree/var/lib/conditiond" "$tree/tmp"
cp /etc/ssl/certs/ca-certificates.crt "$tree/etc/ssl/certs/"
echo "conditiond:x:10001:10001::/var/lib/conditiond:/sbin/nologin" >"$tree/etc/passwd"
echo "conditiond:x:10001:" >"$tree/etc/group"
chown 10001:10001 "$tree/var/lib/conditiond"
chmod 750 "$tree/var/lib/conditiond"
chmod 1777 "$tree/tmp"
