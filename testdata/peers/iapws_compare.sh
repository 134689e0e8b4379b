#!/bin/sh
# Compares densities, saturation and permittivity with Debian's python3-iapws
# on 12,500 random states and prints the worst relative error of each. Not
# part of the default test run. Needs: apt-get install python3-iapws
set -e
cd "$(dirname "$0")/../.."
exec go test -count=1 -tags peers -run TestPeerIAPWS -v ./compare/fluid/water
