.RECIPEPREFIX := >
SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
PYTHON ?= python3.11
ifeq ($(shell command -v $(PYTHON)),)
PYTHON := python3
endif
BIN := .venv/bin
PIP := $(BIN)/pip install -q --disable-pip-version-check
# pip writes each installed set of requirements down, so a second run of make costs nothing
RUN := .venv/.run-installed
DEV := .venv/.dev-installed

.PHONY: demo serve test coverage check bench lock clean browser server pictures

# What takes longer than a few seconds says so before it starts; times are those of two free cores.
demo: $(RUN)
> @echo "Three machines from intake to their end, about half a minute; papers go to build/demo."
> @$(BIN)/counterpoise demo --folder build/demo

serve: $(RUN)
> $(BIN)/counterpoise serve --demo

test: $(DEV) browser server check
> $(BIN)/python -m pytest -n 2 --dist loadfile

# Compiled kernels and other processes are not seen: their lines count as not run.
coverage: $(DEV) browser server
> $(BIN)/python -m pytest -n 2 --dist loadfile -q --cov=counterpoise --cov-report=term:skip-covered --cov-report=html:build/coverage

check: $(DEV)
> $(BIN)/ruff check src tests benchmarks tools
> $(BIN)/ruff format --check src tests benchmarks tools
> $(BIN)/mypy
> $(BIN)/lint-imports
> $(BIN)/python -m tools.kernel_digests
> $(BIN)/python -m tools.picture --check

bench: $(DEV)
> mkdir -p build
> $(BIN)/python -m benchmarks --out build/bench.json

# The pages are driven in a real browser; Debian's is used, and fetched where it is missing.
browser:
> @command -v chromium >/dev/null || { apt-get update -q && apt-get install -y -q chromium; }

# The tests of the store start a PostgreSQL server of their own; its programs are Debian's.
server:
> @command -v initdb >/dev/null || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || \
>   { apt-get update -q && apt-get install -y -q --no-install-recommends postgresql; }

# The pictures of README and tour: docs/tour.md is played in the demo's workshop, about half a minute.
pictures: $(DEV) browser
> $(BIN)/python -m tools.pictures

lock: $(DEV)
> $(BIN)/pip install -q uv
> for set in run dev; do extra=(--extra build); [ $$set = run ] || extra+=(--extra dev); \
>   $(BIN)/uv pip compile --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header \
>     --upgrade "$${extra[@]}" pyproject.toml -o requirements/$$set.txt; done

.venv/bin/pip:
> @echo "Making a Python environment of its own in .venv, about 5 s."
> @$(PYTHON) -m venv .venv

$(RUN): requirements/run.txt pyproject.toml | .venv/bin/pip
> @echo "Installing what the program needs, about 250 MB, half a minute and the time to fetch them."
> @$(PIP) --require-hashes -r requirements/run.txt
> @$(PIP) --no-deps --no-build-isolation -e .
> @$(BIN)/python -m compileall -q src/counterpoise
> @$(BIN)/counterpoise warm
> @touch $@

$(DEV): requirements/dev.txt pyproject.toml | .venv/bin/pip
> @echo "Installing what the program and its tests need, about 700 MB."
> @$(PIP) --require-hashes -r requirements/dev.txt
> @$(PIP) --no-deps --no-build-isolation -e .
> @touch $@

clean:
> rm -rf build .venv .mypy_cache .ruff_cache .pytest_cache .import_linter_cache
