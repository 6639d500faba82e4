# The whole of Phren in a few words. `make start` and `make test` work on a fresh Debian 12.
.PHONY: start test test-fast soak bench build packages format format-check tidy clean

BUILD := build/release

DEMO := out/asthma

# Examines a demo patient, names its report, then serves the pages: leave it running and open the
# printed address; Ctrl-C stops it.
start: build
	@$(BUILD)/phren examine asthma --out $(DEMO)
	@echo "Open $(CURDIR)/$(DEMO)/report.html in a browser; the pages follow."
	@$(BUILD)/phren serve

packages:
	@scripts/install-packages.sh

build: packages
	@cmake --preset release > build.log 2>&1 || { cat build.log; exit 1; }; rm -f build.log
	@cmake --build --preset release

# A test that keeps time with a browser or with many clients may miss its moment once on a loaded
# machine; twice in a row is a failure. No other test has a second try.
test: build
	ctest --test-dir $(BUILD) --output-on-failure --no-tests=error -j 2 -LE '^keeps_time$$' -E 'Soak\.'
	ctest --test-dir $(BUILD) --output-on-failure --no-tests=error -L '^keeps_time$$' -E 'Soak\.' --repeat until-pass:2

test-fast: build
	ctest --test-dir $(BUILD) --output-on-failure -j 2 -E '(Slow|Soak)\.'

# Long runs: wider sweeps of what `make test` samples, damaged texts through every reader, the server under
# each attack for longer.
soak: build
	ctest --test-dir $(BUILD) --output-on-failure --no-tests=error -j 2 -R 'Soak\.' --timeout 7200

bench: build
	@cmake --build --preset release --target benches
	@for program in $(BUILD)/bench/*_bench; do echo "== $$program"; $$program --benchmark_min_time=0.2; done
	@echo "== 300 learners for ten minutes"; cmake --build --preset release --target class_load && tests/classroom/load_test.py $(BUILD)/phren $(BUILD)/tests/classroom/class_load 600
	@echo "== HTTP"; bench/http_bench.sh $(BUILD)/phren $(BUILD)/src/app/server/pages

format:
	@web/install.sh
	@git ls-files 'src/*.h' 'src/*.cc' 'tests/*.h' 'tests/*.cc' 'bench/*.cc' | xargs clang-format-19 -i
	@node web/format.mjs

format-check:
	@git ls-files 'src/*.h' 'src/*.cc' 'tests/*.h' 'tests/*.cc' 'bench/*.cc' | xargs clang-format-19 --dry-run -Werror
	@web/install.sh && node web/format.mjs --check

# Static analysis of what is ours; slow, so not part of the tests.
tidy: build
	@git ls-files 'src/*.cc' | xargs -n 1 -P 2 clang-tidy-19 --quiet -p $(BUILD)

clean:
	rm -rf build
