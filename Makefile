# The everyday verbs. `make` alone lists them.
PYTHON ?= python3.11
UV ?= uv
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --no-input --quiet
RACK := out/demo-rack
DEMO := out/demo.db
PORT := 8000
NOTE := Invented demo rack: its tanks, readings and people are made up.
AT := 2026-07-20T09:00:00+01:00

# What the compiled kernel is made from: a change builds it again.
KERNEL_SOURCES := pyproject.toml hatch_build.py \
  $(wildcard src/pleuston/engine/compile.py src/pleuston/model/*.[ch] \
    src/pleuston/engine/*.[ch] src/pleuston/engine/native/*.[ch])

.DEFAULT_GOAL := help
.PHONY: help start round test lint laws fresh bench check kernel docs lock clean

help: ## list these targets
	@grep -hE '^[a-z]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z]+):.*## /\1|/' | \
	  awk -F'|' '{printf "  make %-8s %s\n", $$1, $$2}'

start: $(VENV)/.run $(VENV)/.built ## the app on the demo rack; prints its address
	@test -f $(DEMO) || { mkdir -p $(dir $(DEMO)); $(BIN)/pleuston demo $(DEMO) --this-week; }
	@$(BIN)/pleuston serve $(DEMO) --port $(PORT) --note "$(NOTE)"

round: $(VENV)/.run $(VENV)/.built ## the demo rack's round, printed, and its report
	@test -f $(RACK)/rack.csv || $(BIN)/pleuston demo $(RACK)
	@$(BIN)/pleuston round $(RACK) --at $(AT) --report out/round.html

test: lint fresh $(VENV)/.dev $(VENV)/.built ## lint, types, layers, freshness and the everyday tests
	$(BIN)/python -m pytest -n auto --dist loadfile -m "not slow and not oracle and not browser"

lint: $(VENV)/.dev $(VENV)/.built ## ruff, mypy and the layers
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

fresh: $(VENV)/.dev $(VENV)/.built ## are the generated kernel and reference pages up to date?
	$(BIN)/python -m pleuston.model.build --check
	$(BIN)/python tools/docs.py --check
	$(BIN)/python tools/trust.py --check

laws: $(VENV)/.dev $(VENV)/.built ## the laws of the process table alone
	$(BIN)/python -m pytest tests/laws

bench: $(VENV)/.dev $(VENV)/.built ## speed and accuracy beside other solvers, to benchmarks/out.json
	$(BIN)/python benchmarks/run.py

check: $(VENV)/.run $(VENV)/.built ## the report card
	$(BIN)/pleuston check

kernel: $(VENV)/.dev $(VENV)/.built ## write the kernel from the process table, and compile it
	$(BIN)/python -m pleuston.model.build
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $(VENV)/.built

docs: $(VENV)/.dev $(VENV)/.built ## write docs/reference from the code and its data
	$(BIN)/python tools/docs.py

lock: ## resolve the two lock files again (needs uv)
	tools/lock.sh $(UV)

clean: ## remove what was built (the environment too)
	rm -rf $(VENV) build dist out .mypy_cache .ruff_cache .pytest_cache .hypothesis \
	  .import_linter_cache
	find src -name '*.so' -o -name '*.dylib' | xargs -r rm -f

$(VENV)/bin/python:
	@command -v $(PYTHON) >/dev/null 2>&1 || { \
	  echo "make: $(PYTHON) is not installed. Install Python 3.11 with its venv module (on Debian:" >&2; \
	  echo "python3.11 and python3.11-venv), or name another: make PYTHON=/path/to/python" >&2; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "make: $(PYTHON) is older than 3.11. Name a newer one: make PYTHON=/path/to/python" >&2; exit 1; }
	@$(PYTHON) -m venv $(VENV) || { \
	  echo "make: $(PYTHON) can't make an environment. Install its venv module (on Debian:" >&2; \
	  echo "python3.11-venv)" >&2; rm -rf $(VENV); exit 1; }

$(VENV)/.run: requirements.lock | $(VENV)/bin/python
	@echo "Installing what the program needs into $(VENV) ..."
	@$(PIP) install --require-hashes --requirement requirements.lock
	@touch $@

$(VENV)/.dev: requirements-dev.lock | $(VENV)/bin/python
	@echo "Installing what the tests need into $(VENV) ..."
	@$(PIP) install --require-hashes --requirement requirements-dev.lock
	@touch $@ $(VENV)/.run

$(VENV)/.built: $(KERNEL_SOURCES) | $(VENV)/.run
	@$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@
