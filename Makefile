# Everything a contributor or a build machine runs. It needs Go, git and make;
# what else the tests can use is installed by "make test" where that is allowed.

GO         ?= go
FUZZTIME   ?= 5s
BENCHTIME  ?= 1s
# For make bench, such as -only workbook, or -runs 5.
BENCHFLAGS ?=
LINT       := github.com/golangci/golangci-lint/v2/cmd/golangci-lint@v2.15.0
TOOLS      := $(CURDIR)/bin/tools
VERSION    := $(shell git describe --tags --always --dirty 2>/dev/null || echo devel)
COMMIT     := $(shell git rev-parse --short=12 HEAD 2>/dev/null)
LDFLAGS    := -s -w -X main.version=$(VERSION) -X main.commit=$(COMMIT)
# Debian package:program that tells that it is there.
DEBIAN     := poppler-utils:pdftotext tesseract-ocr:tesseract gcc:gcc units:units nodejs:node npm:npm postgresql:pg_ctlcluster systemd:systemd-analyze chromium:chromium libreoffice-calc-nogui:soffice
# The npm library that the table of units is compared with.
UCUM       := @lhncbc/ucum-lhc@7.1.10

# What is built is static, the same as in deploy/Containerfile, so that both
# share one cache; only the race detector needs the C compiler.
export CGO_ENABLED := 0

.DEFAULT_GOAL := help
# The steps share bin and two processors: one after the other, also under -j,
# but for the two halves of the tests.
ifndef SIDE_BY_SIDE
.NOTPARALLEL:
endif
.PHONY: help build manual reproducible demo test check deploy-check duckdb-check format vet lint tidy licences race race-program race-parts fuzz mapping-test bench growth bench-parts pictures replay-size parts-size torture load needs clean

help: ## show this list
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  make %-14s %s\n", $$1, $$2}' $(firstword $(MAKEFILE_LIST))

build: ## build bin/windrow
	@mkdir -p bin
	$(GO) build -trimpath -ldflags '$(LDFLAGS)' -o bin/windrow ./cmd/windrow

# A package of the program has a manual page for each command, and what shells
# need to complete them.
manual: build ## the manual pages and shell completions, in bin/manual
	rm -rf bin/manual
	bin/windrow manual bin/manual

# From a folder of another name and with a cache of its own, which compiles all
# of it anew: the same sources must give the same bytes.
reproducible: ## build twice, from two folders with two caches, and compare
	@rm -rf bin/twice; mkdir -p bin/twice/sources bin/twice/cache; \
	cp -R cmd ingest normalize mappings interpret go.mod go.sum bin/twice/sources/; \
	$(GO) build -trimpath -buildvcs=false -ldflags '$(LDFLAGS)' -o bin/twice/one ./cmd/windrow && \
	(cd bin/twice/sources && GOCACHE=$(CURDIR)/bin/twice/cache $(GO) build -trimpath -buildvcs=false -ldflags '$(LDFLAGS)' -o ../two ./cmd/windrow) && \
	cmp bin/twice/one bin/twice/two && echo "reproducible: twice the same $$(wc -c <bin/twice/one) bytes"; status=$$?; \
	rm -rf bin/twice; exit $$status

demo: build ## build, make a demonstration office and run the job in it once
	bin/windrow demo

test: start needs check deploy-check duckdb-check reproducible race fuzz mapping-test ## run everything that CI runs
	@if [ -s bin/notrun ]; then echo "test: passed, but NOT RUN for want of it: $$(sort -u bin/notrun | tr '\n' ' ')"; \
	else echo "test: all passed"; fi

.PHONY: start
start:
	@mkdir -p bin; rm -f bin/notrun

check: format vet lint tidy licences ## what can be checked without running a test

# Promtool is taken out of its package: installing that would start a server.
needs: ## install the programs that the tests can use, if this user may
	@for x in $(DEBIAN); do \
	  pkg=$${x%%:*}; prog=$${x##*:}; \
	  if command -v $$prog >/dev/null 2>&1; then continue; fi; \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then \
	    echo "needs: installing $$pkg"; \
	    if DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$pkg >/dev/null 2>&1 || \
	       { apt-get update -qq >/dev/null 2>&1 && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$pkg >/dev/null 2>&1; }; \
	    then continue; fi; \
	  fi; \
	  echo "needs: could not install $$pkg; what uses $$prog will be skipped. To have it: apt-get install $$pkg"; \
	  mkdir -p bin; echo "$$prog" >>bin/notrun; \
	done
	@if ! command -v promtool >/dev/null 2>&1 && [ ! -x $(TOOLS)/promtool ]; then \
	  echo "needs: fetching promtool"; mkdir -p bin/deb $(TOOLS); rm -rf bin/deb/*; \
	  (cd bin/deb && { apt-get download -qq prometheus || { apt-get update -qq && apt-get download -qq prometheus; }; } && \
	    dpkg-deb -x prometheus_*.deb x && cp x/usr/bin/promtool $(TOOLS)/) >bin/deb.log 2>&1 || tail -3 bin/deb.log; rm -rf bin/deb; \
	fi; \
	if ! command -v promtool >/dev/null 2>&1 && [ ! -x $(TOOLS)/promtool ]; then \
	  echo "needs: could not fetch promtool from Debian's package prometheus; the rules are parsed and not run"; mkdir -p bin; echo promtool >>bin/notrun; fi
	@lib=bin/node_modules/@lhncbc/ucum-lhc; \
	if [ ! -d $$lib ] && command -v npm >/dev/null 2>&1; then \
	  echo "needs: installing $(UCUM) in bin/node_modules"; mkdir -p bin; \
	  npm install --prefix bin --no-save --no-package-lock --no-fund --no-audit --loglevel=error $(UCUM) >bin/npm.log 2>&1 || tail -3 bin/npm.log; \
	fi; \
	if [ ! -d $$lib ]; then echo "needs: no $(UCUM); the answers recorded from it are compared instead"; mkdir -p bin; echo "ucum-lhc" >>bin/notrun; fi

format: ## fail if a Go file is not formatted
	@out=$$(gofmt -l cmd deploy ingest interpret mappings normalize); \
	if [ -n "$$out" ]; then echo "format: run gofmt -w on"; echo "$$out"; exit 1; fi

vet: ## go vet
	$(GO) vet ./...

# golangci-lint is fetched at a pinned version and built once. Without a
# network it cannot be: that is said, here and at the end, and the rest still
# runs. The rule on doc comments and those on imports are tests as well.
lint: ## golangci-lint, with the rules of .golangci.yml
	@mkdir -p $(TOOLS)
	@want=$(lastword $(subst @, ,$(LINT))); \
	if [ ! -x $(TOOLS)/golangci-lint ] || [ "$$(cat $(TOOLS)/golangci-lint.version 2>/dev/null)" != "$$want" ]; then \
	  echo "lint: building golangci-lint $$want (a minute or two, once)"; \
	  if GOBIN=$(TOOLS) GOFLAGS= $(GO) install $(LINT) >$(TOOLS)/install.log 2>&1; then \
	    echo "$$want" >$(TOOLS)/golangci-lint.version; \
	  else \
	    tail -3 $(TOOLS)/install.log; \
	    echo "lint: NOT RUN, golangci-lint could not be built; see bin/tools/install.log"; \
	    echo "golangci-lint" >>bin/notrun; exit 0; \
	  fi; \
	fi; \
	$(TOOLS)/golangci-lint run ./...

# A module of its own, with the libraries that define what the files of deploy
# are written in. Without a network they can't be had: that is said.
deploy-check: manual ## hold the files of deploy against what they are written for
	@mkdir -p bin; \
	if ! (cd deploy/check && $(GO) mod download) >bin/deploy.log 2>&1; then \
	  tail -3 bin/deploy.log; echo "deploy-check: NOT RUN, its libraries could not be had; see bin/deploy.log"; echo "deploy-check" >>bin/notrun; exit 0; \
	fi; \
	$(GO) -C deploy/check vet ./... || exit 1; \
	$(call SPEAK,$(GO) -C deploy/check test -v -timeout 10m ./...)

# A module of its own as well: DuckDB is large, and needs a C compiler.
duckdb-check: ## read the datasets of the demonstration with DuckDB, and hold them against its archive
	@mkdir -p bin; \
	if ! command -v "$$($(GO) env CC)" >/dev/null 2>&1; then echo "duckdb-check: NOT RUN, there is no C compiler"; echo "duckdb-check" >>bin/notrun; exit 0; fi; \
	if ! CGO_ENABLED=1 $(GO) -C normalize/dataset/duckdb test -c -o /dev/null . >bin/duckdb.log 2>&1 && grep -qE 'dial tcp|no such host|i/o timeout|connection refused|TLS handshake|Forbidden' bin/duckdb.log; then \
	  tail -3 bin/duckdb.log; echo "duckdb-check: NOT RUN, DuckDB could not be had; see bin/duckdb.log"; echo "duckdb-check" >>bin/notrun; exit 0; \
	fi; \
	CGO_ENABLED=1 $(GO) -C normalize/dataset/duckdb vet ./... || exit 1; \
	$(call SPEAK,CGO_ENABLED=1 $(GO) -C normalize/dataset/duckdb test -count 1 -v -timeout 15m ./...)

tidy: ## fail if go.mod or go.sum are not tidy
	$(GO) mod tidy -diff
	cd deploy/check && $(GO) mod tidy -diff
	cd normalize/dataset/duckdb && $(GO) mod tidy -diff

licences: ## fail if a module in the program has a licence that is not allowed
	@sh .ci/licences $(GO)

# Tests speak (-v), so that their tables and what they skipped are seen; the
# lines that only say that a test began or passed are left out. Without a C
# compiler there is no race detector, and that is said. What works on pixels
# and on WebAssembly is some twenty times slower under the detector, more than
# its own time limits allow: it runs without (SLOW). So does what does one thing
# after another, where there is no race to find (SERIAL; a test wants them so).
SLOW    := ./ingest/scan ./ingest/second ./cmd/internal/web
SERIAL  := ./interpret ./interpret/letter ./mappings/draft ./normalize ./normalize/dataset
UNRACED := $(SLOW) $(SERIAL)
SPEAK    = { $(1) 2>&1; echo $$? >bin/$@.status; } | awk '!/^=== / && !/^PASS$$/ && !/^ *--- PASS/ {print; fflush()}'; \
	[ "$$(cat bin/$@.status)" = 0 ] || exit 1

race: ## all tests, with the race detector
	@mkdir -p bin; if [ -z "$(CC_HERE)" ]; then echo "race: no C compiler, so the tests run without the race detector"; echo "race detector" >>bin/notrun; fi
	@$(RACED_AS) $(GO) build $(RACED) ./...
	@$(MAKE) --no-print-directory SIDE_BY_SIDE=yes -j 2 -O race-program race-parts

# Half of the time goes to the tests of the program, which are one package: two
# processors are in use to the end when the others have the second one.
CC_HERE   = $(shell command -v "$$($(GO) env CC)" 2>/dev/null)
RACED_AS  = CGO_ENABLED=$(if $(CC_HERE),1,0)
RACED     = $(if $(CC_HERE),-race)

# What reads each report of testdata, scans too: once, for all of these tests.
EVERYTHING = '^Test(Score|AuditRecomputesEverything|AuditTellsAnyChangedDigit|TracesRecomputeByCalculator)$$$$'

race-program:
	@$(call SPEAK,$(RACED_AS) $(GO) test $(RACED) -v -p 1 -timeout 30m -skip $(EVERYTHING) ./cmd/windrow)

race-parts:
	@echo "$(GO) test -race (all but the program, $(UNRACED))"
	@$(call SPEAK,$(RACED_AS) $(GO) test $(RACED) -v -p 1 -timeout 20m $$($(GO) list ./... | grep -vE '/($(subst $() ,|,$(patsubst ./%,%,./cmd/windrow $(UNRACED))))$$'))
	@echo "$(GO) test $(UNRACED), and what reads every report there is"
	@$(call SPEAK,$(GO) test -v -p 1 -timeout 20m -run $(EVERYTHING) ./cmd/windrow)
	@$(call SPEAK,$(GO) test -v -p 1 -timeout 20m $(UNRACED))

# Before Go 1.27 the engine may call it a failure when its own time ends in the
# middle of an input (golang.org/issue/75804): without a failing input that is
# no finding, and the target is run once more.
fuzz: ## each fuzz target for a few seconds (FUZZTIME)
	@mkdir -p bin; found=0; for f in $$(grep -rl --include='*_test.go' '^func Fuzz' cmd ingest interpret mappings normalize); do \
	  for name in $$(sed -n 's/^func \(Fuzz[A-Za-z0-9_]*\)(.*/\1/p' $$f); do \
	    found=$$((found+1)); \
	    echo "fuzz: $$name in $$(dirname $$f) for $(FUZZTIME)"; \
	    for try in 1 2; do \
	      $(GO) test -run '^$$' -fuzz "^$$name\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 20x ./$$(dirname $$f) >bin/fuzz.log 2>&1 && break; \
	      if [ $$try = 2 ] || grep -q 'Failing input' bin/fuzz.log || ! grep -q 'context deadline exceeded' bin/fuzz.log; then cat bin/fuzz.log; exit 1; fi; \
	      echo "fuzz: its time ended in the middle of an input; once more"; \
	    done; \
	  done; done; \
	if [ $$found = 0 ]; then echo "fuzz: found no target"; exit 1; fi; echo "fuzz: $$found targets passed"

mapping-test: build ## each mapping against its own examples
	bin/windrow mapping test

# One table of ratios; it takes some minutes, and says little on a machine that
# is busy with something else. The benchmarks of single functions are the
# second target.
bench: build needs ## measure each stage and the whole beside what one would otherwise run
	@$(GO) run ./cmd/internal/bench -windrow bin/windrow -built $(VERSION) $(BENCHFLAGS)

# A million records take some hours of one processor, most of it for the index.
growth: build ## how time and memory grow with the number of records, up to GROWTH
	@GOMAXPROCS=1 nice $(GO) run ./cmd/internal/bench -windrow bin/windrow -growth $${GROWTH:-100000}

bench-parts: ## the benchmarks of single functions
	$(GO) test -p 1 -run '^$$' -bench . -benchmem -benchtime $(BENCHTIME) ./...

pictures: ## make the pictures of README.md anew, of the demonstration's pages in chromium
	$(GO) test ./cmd/internal/web -run '^TestPicturesOfTheReadme$$' -count 1 -args -pictures

replay-size: ## read an archive of 10,000 derived reports anew (REPLAYS), and say what it took
	REPLAY_SIZE=$${REPLAYS:-10000} $(GO) test ./cmd/windrow -run '^TestReplayAtSize$$' -count 1 -v -timeout 4h

parts-size: ## make a dataset in parts of 100,000 invented records (PARTS), and say what it took
	PARTS_SIZE=$${PARTS:-100000} $(GO) test ./normalize/dataset -run '^TestPartsAtSize$$' -count 1 -v -timeout 4h

# The tests of crashes and faults at full length, under their own names: CI runs
# the same ones with fewer kills, fewer causes and shorter locks. TORTURE is how
# often the program is killed; 1,000 take about a quarter of an hour.
TORTURE ?= 1000
torture: ## kill the program TORTURE times, and every fault at every call of the file system
	@mkdir -p bin
	@$(call SPEAK,TORTURE=$(TORTURE) $(GO) test -count 1 -v -timeout 4h ./normalize/archive ./ingest/folder -run 'EveryCall|Stop|Kill|Power|Together|Crash|Clock|Folder|Devices')
	@$(call SPEAK,TORTURE=$(TORTURE) $(GO) test -count 1 -v -timeout 4h ./cmd/windrow -run '^(TestKilledAtAnyMoment|TestThousandAtOnce|TestTwoProcessesInOneOffice|TestFolderThatIsTakenOff|TestIndexFailsWhileWatching|TestClockJumpsBetweenRuns|TestDiskThatFills|TestInboxOnADiskThatIsTakenOff)$$$$')

# Some 20,000 reports need three hours of two processors, and 20 GB of disk.
LOAD ?= 20000
load: ## put LOAD reports of all kinds through one machine and through a central engine, killing at random
	@mkdir -p bin
	@$(call SPEAK,LOAD=$(LOAD) $(GO) test -count 1 -v -timeout 6h ./cmd/windrow -run '^TestLoad$$$$')

clean: ## remove what was built, and the demonstration office
	rm -rf bin windrow-demo coverage.out
