#!/bin/sh
# Measures what polling and forwarding put on the wire: runs the simulated
# plant and the service, lets a sink take the line protocol, and reads the
# kernel's counters of every connection of the service (ss -ti) at the start and
# at the end. Headers are counted as 66 bytes a segment: Ethernet 14, IPv4 20,
# TCP with time stamps 32.
#
#	sh testdata/peers/wire.sh [SECONDS]
set -eu
span=${1:-60}
dir=$(mktemp -d)
trap 'kill $service $plant $sink 2>/dev/null || true; rm -rf "$dir"' EXIT
service= plant= sink=
go build -o "$dir/bridlewatch" ./cmd/bridlewatch
python=/usr/bin/python3
$python "$(dirname "$0")/wire.py" sink "$dir/port" & sink=$!
"$dir/bridlewatch" rehearse --plant-only --write-config "$dir/plant.yaml" >"$dir/plant.log" 2>&1 & plant=$!
while [ ! -s "$dir/plant.yaml" ] || [ ! -s "$dir/port" ]; do sleep 1; done
port=$(cat "$dir/port")
printf 'influx:\n  url: http://127.0.0.1:%s\n  bucket: b/autogen\n' "$port" >>"$dir/plant.yaml"
"$dir/bridlewatch" serve --config "$dir/plant.yaml" --data "$dir/data" --listen 127.0.0.1:0 >"$dir/service.log" 2>&1 & service=$!
sleep 20
look() { date +%s.%N; ss -tinp state established | grep -A1 "pid=$service,"; }
look >"$dir/first"
sleep "$span"
look >"$dir/last"
$python "$(dirname "$0")/wire.py" report "$dir/plant.yaml" "$port" "$dir/first" "$dir/last"
