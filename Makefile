# The two commands of the README are `go run ./cmd/bridlewatch rehearse` and
# `make test`. Everything below runs from a fresh clone.

GO ?= go
STATICCHECK = honnef.co/go/tools/cmd/staticcheck@v0.8.2

.PHONY: test peers check race quick vectors bench profile bench-store load screenshots pictures

# Install what the tests need, then run all of them.
test: peers check race

# Debian packages, npm packages and Go tools that act as independent peers.
peers:
	sh testdata/peers/install.sh

check:
	@test -z "$$(gofmt -l cmd collector compare config dashboards)" || { gofmt -l cmd collector compare config dashboards; echo "run gofmt -w on these files"; exit 1; }
	$(GO) vet -pgo=off -tags peers ./...
	$(GO) run $(STATICCHECK) -tags peers ./...

# A busy machine can trip a test that talks to a peer in real time: what failed
# runs once more, alone, and must pass then. Both outcomes stay in the log.
# The profile is for the program that is shipped: tests would compile everything
# a second time for it.
TESTS = $(GO) test -pgo=off -tags peers -timeout 30m

# Package compare is arithmetic without goroutines, and its tests are years of
# it: the race detector has nothing to find there. Everything else runs under it.
CALM = ./compare
RACED = $$($(GO) list ./... | grep -vx bridlewatch/compare)

race:
	$(TESTS) $(CALM) || { echo "== once more, what failed"; $(TESTS) $(CALM); }
	$(TESTS) -race $(RACED) || { echo "== once more, what failed"; $(TESTS) -race -p 1 $(RACED); }

# Without peers and without the race detector: for between two edits.
quick:
	$(GO) test -pgo=off ./...

# Recompute every published value and print the worst error for each source.
vectors:
	@out=$$($(GO) test -count=1 -run Vectors -v ./compare/... 2>&1); status=$$?; \
	echo "$$out" | grep -E 'worst|FAIL' | sed 's/^.*vectors: //'; exit $$status

# Figures of the program as it is built: with its profile.
PROFILE = cmd/bridlewatch/default.pgo
BENCH = $(GO) test -run '^$$' -benchmem -pgo=$(CURDIR)/$(PROFILE)

bench:
	$(BENCH) -bench . ./compare/... ./collector/...
	$(BENCH) -bench Replay ./cmd/bridlewatch/watch

# Where a replay spends its time, for the compiler: it inlines what is hot there.
# To be taken anew when the way of a scan has changed; results do not depend on it.
profile:
	$(GO) test -run '^$$' -bench 'Replay$$' -benchtime 15s -pgo=off -cpuprofile $(CURDIR)/replay.prof -o $(CURDIR)/replay.test ./cmd/bridlewatch/watch
	$(GO) test -run '^$$' -bench Step -benchtime 10s -pgo=off -cpuprofile $(CURDIR)/plant.prof -o $(CURDIR)/plant.test ./compare/scenario
	$(GO) tool pprof -proto replay.prof plant.prof > $(PROFILE)
	rm replay.prof replay.test plant.prof plant.test

# What history costs here, as plain SQLite rows, in the Prometheus storage
# engine, in InfluxDB and in VictoriaMetrics: the same data in one run. The
# first table is about many signals, the second about long trends. It takes most
# of an hour; MONTH=1 YEAR=10 shows in three minutes that all of it runs, with
# what is fixed (logs, empty pages) on top of the bytes.
MONTH ?= 30
YEAR ?= 365
bench-store:
	cd testdata/peers/stores && $(GO) run . -signals 100 -days $(MONTH) -noise && $(GO) run . -signals 6 -days $(YEAR)

# A thousand gauges of six signals every second with ten open pages.
load:
	$(GO) run ./cmd/bridlewatch load --gauges 1000 --for 20m

# Pictures of every page, left in shots/.
screenshots:
	BRIDLEWATCH_SHOTS=$(CURDIR)/shots $(GO) test -count=1 -tags peers -run Browser ./dashboards/...

# Pictures of the README, from a rehearsal.
pictures:
	sh testdata/pictures/take.sh
