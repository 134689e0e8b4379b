#!/bin/sh
# Takes the pictures of the README from a rehearsal: sh testdata/pictures/take.sh
# Needs Chromium (testdata/peers/install.sh).
set -eu
cd "$(dirname "$0")/../.."
go build -o /tmp/bridlewatch-pictures ./cmd/bridlewatch
/tmp/bridlewatch-pictures rehearse --speed 120 --for 70s --listen 127.0.0.1:8099 >/dev/null 2>&1 &
sleep 35
profile="$(mktemp -d)"
take() {
	timeout 30 chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
		--disable-component-update --disable-sync --hide-scrollbars --timeout=5000 --user-data-dir="$profile" \
		--window-size="$3" --screenshot="testdata/pictures/$2.png" "http://127.0.0.1:8099/$1" >/dev/null 2>&1
}
take "" visits 1280,720
take gauge/LG-104 gauge 1280,1060
wait
rm -rf "$profile" /tmp/bridlewatch-pictures
