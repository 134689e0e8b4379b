# The two commands of the README are `go run ./cmd/bridlewatch rehearse` and
# `make test`. Everything below runs from a fresh clone.

GO ?= go
STATICCHECK = honnef.co/go/tools/cmd/staticcheck@v0.8.2

.PHONY: test peers check race quick vectors bench bench-store load screenshots pictures

# Install what the tests need, then run all of them.
test: peers check race

# Debian packages, npm packages and Go tools that act as independent peers.
peers:
	sh testdata/peers/install.sh

check:
	@test -z "$$(gofmt -l cmd collector compare config dashboards)" || { gofmt -l cmd collector compare config dashboards; echo "run gofmt -w on these files"; exit 1; }
	$(GO) vet -tags peers ./...
	$(GO) run $(STATICCHECK) -tags peers ./...

# A busy machine can trip a test that talks to a peer in real time: what failed
# runs once more, alone, and must pass then. Both outcomes stay in the log.
TESTS = $(GO) test -tags peers -timeout 30m

# Package compare is arithmetic without goroutines, and its tests are years of
# it: the race detector has nothing to find there. Everything else runs under it.
CALM = ./compare
RACED = $$($(GO) list ./... | grep -vx bridlewatch/compare)

race:
	$(TESTS) $(CALM) || { echo "== once more, what failed"; $(TESTS) $(CALM); }
	$(TESTS) -race $(RACED) || { echo "== once more, what failed"; $(TESTS) -race -p 1 $(RACED); }

# Without peers and without the race detector: for between two edits.
quick:
	$(GO) test ./...

# Recompute every published value and print the worst error for each source.
vectors:
	@out=$$($(GO) test -count=1 -run Vectors -v ./compare/... 2>&1); status=$$?; \
	echo "$$out" | grep -E 'worst|FAIL' | sed 's/^.*vectors: //'; exit $$status

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./compare/... ./collector/...

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
