# One front door. `make` lists what there is; each target says what it does after `##`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input

.DEFAULT_GOAL := help
.PHONY: help run test check lint types layers unit js browser fuzz format bench abuse peers screenshots lock clean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "  make %-12s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

# A stamp file a set of packages: pip runs only when its lock file or pyproject.toml has changed.
$(VENV)/run.stamp: requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit("twobowls needs Python 3.11 or newer; this is " + sys.version.split()[0] + ". Try: make PYTHON=python3.12 run") if sys.version_info < (3, 11) else None'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Installing what twobowls needs to run ..."
	@$(PIP) install --quiet --require-hashes -r requirements.lock
	@$(PIP) install --quiet --no-deps --editable .
	@touch $@

$(VENV)/dev.stamp: requirements-dev.lock $(VENV)/run.stamp
	@echo "Installing what the checks need ..."
	@$(PIP) install --quiet --require-hashes -r requirements-dev.lock
	@touch $@

run: $(VENV)/run.stamp ## set up, load the sample tasting if the store is empty, open the tool
	@$(BIN)/twobowls serve --sample --open

test: check unit js browser ## set up and run every check and test

check: lint types layers ## style, strict types, and the layers of the design

lint: $(VENV)/dev.stamp ## ruff: style and formatting
	@$(BIN)/ruff check . && $(BIN)/ruff format --check .

types: $(VENV)/dev.stamp ## mypy: strict types
	@$(BIN)/mypy

layers: $(VENV)/dev.stamp ## import-linter: the pure core does no input or output
	@$(BIN)/lint-imports

unit: $(VENV)/dev.stamp ## pytest, without the browser
	@$(BIN)/pytest -q -n 2 -m "not browser"

js: $(VENV)/dev.stamp ## node's own test runner on the browser modules
	@$(BIN)/python scripts/node.py --test "tests/js/**/*.test.js"

browser: $(VENV)/dev.stamp ## Playwright on Debian's Chromium
	@$(BIN)/python scripts/chromium.py
	@$(BIN)/pytest -q -m browser

fuzz: $(VENV)/dev.stamp ## send the server odd requests, and try new made-up examples, for a few minutes
	@TWOBOWLS_FUZZ=250 $(BIN)/pytest -q -n 2 --hypothesis-profile=new -m "not browser" $$(grep -lr "^from hypothesis" tests)

format: $(VENV)/dev.stamp ## let ruff put the code in order
	@$(BIN)/ruff check --fix . ; $(BIN)/ruff format .

bench: $(VENV)/dev.stamp ## measure speed and memory, as ratios in one run
	@$(BIN)/python -m benchmarks

$(VENV)-bench/peers.stamp: pyproject.toml
	@$(PYTHON) -m venv $(VENV)-bench
	@$(VENV)-bench/bin/python -m pip install --disable-pip-version-check --no-input --quiet --editable '.[bench]'
	@touch $@

peers: $(VENV)-bench/peers.stamp ## install the Python programs that `make bench` compares with

abuse: $(VENV)/dev.stamp ## attack a server of its own for a minute and a half: do the limits hold?
	@$(BIN)/python -m scripts.abuse

screenshots: $(VENV)/dev.stamp ## make the README's pictures from a running tool
	@$(BIN)/python scripts/chromium.py
	@$(BIN)/python -m scripts.screenshots

lock: ## pin every package anew (needs uv)
	@uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header -q pyproject.toml -o requirements.lock
	@uv pip compile --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header -q pyproject.toml --extra dev -o requirements-dev.lock

clean: ## remove the environment and the caches (never the tastings)
	@rm -rf $(VENV) $(VENV)-bench .mypy_cache .ruff_cache .hypothesis .import_linter_cache
