#!/bin/sh
# Installs the peer programs the tests with the build tag "peers" talk to:
# programs that we did not write. Needs root on Debian for what is not there
# yet; elsewhere it says what is missing. Run it as often as you like.
set -eu

cache="${XDG_CACHE_HOME:-$HOME/.cache}/bridlewatch-peers"
mkdir -p "$cache"

# command or file that shows a package is there, then the Debian package
packages="
mbpoll:mbpoll
gcc:gcc
pkg-config:pkg-config
socat:socat
node:nodejs
npm:npm
/usr/bin/python3:python3
/usr/lib/python3/dist-packages/pymodbus:python3-pymodbus
/usr/lib/python3/dist-packages/serial:python3-serial
/usr/lib/python3/dist-packages/serial_asyncio:python3-serial-asyncio
/usr/lib/python3/dist-packages/iapws:python3-iapws
/usr/include/modbus/modbus.h:libmodbus-dev
victoria-metrics:victoria-metrics
chromium:chromium
pdftotext:poppler-utils
argon2:argon2
strace:strace
systemd-analyze:systemd
/usr/share/doc/python3-seccomp:python3-seccomp
/usr/sbin/nats-server:nats-server
/usr/sbin/mosquitto:mosquitto
/usr/bin/mosquitto_pub:mosquitto-clients
"

missing=""
for line in $packages; do
	there="${line%%:*}"
	command -v "$there" >/dev/null 2>&1 || [ -e "$there" ] || missing="$missing ${line##*:}"
done

if [ -n "$missing" ]; then
	if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
		# RUNLEVEL=1 keeps freshly installed services down.
		export RUNLEVEL=1 DEBIAN_FRONTEND=noninteractive
		apt-get update -q
		# shellcheck disable=SC2086
		apt-get install -q -y --no-install-recommends $missing
	else
		echo "missing Debian packages:$missing (run this script as root on Debian, or install them by hand)" >&2
		exit 1
	fi
fi

if [ ! -d "$cache/node_modules/node-opcua" ]; then
	(cd "$cache" && npm install --no-audit --no-fund --loglevel=error node-opcua@2.186)
fi

# A Sparkplug B edge node.
if [ ! -d "$cache/node_modules/sparkplug-client" ]; then
	(cd "$cache" && npm install --no-audit --no-fund --loglevel=error sparkplug-client@3.2.4)
fi

# DuckDB reads the Parquet archive.
if [ ! -d "$cache/node_modules/@duckdb/node-api" ]; then
	(cd "$cache" && npm install --no-audit --no-fund --loglevel=error @duckdb/node-api@1.5.6-r.1)
fi

# InfluxDB 1.8 serves the v2 write and Flux query endpoints.
if [ ! -x "$cache/bin/influxd" ]; then
	GOBIN="$cache/bin" GOFLAGS= go install github.com/influxdata/influxdb/cmd/influxd@v1.8.10
fi

# An object store, and Polars, which reads the Parquet archive from one.
if [ ! -x "$cache/bin/gofakes3" ]; then
	GOBIN="$cache/bin" GOFLAGS= go install github.com/johannesboyne/gofakes3/cmd/gofakes3@v1.2.0
fi
if [ ! -d "$cache/node_modules/nodejs-polars-linux-x64-gnu" ]; then
	(cd "$cache" && npm install --no-audit --no-fund --loglevel=error nodejs-polars@0.25.2 nodejs-polars-linux-x64-gnu@0.25.2)
fi
