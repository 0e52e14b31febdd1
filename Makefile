# make run    set everything up and diagnose a published case
# make serve  set everything up and open the bench in the browser, with the demo's cases
# make test   set everything up and run all tests
# make lint   the linters
# make docs   remake pictures and tables of the documentation
# make screenshots  take the pictures of the bench anew (needs Chromium)
# make bench     networks per second, and the times of an update
# make accuracy  simulate faults, diagnose them by our own advice, write docs/accuracy.md (about half an hour)

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
CASE := examples/published/foil-valid-white-opponent-cord-a-line.toml

# Matrices are small here; more threads only fight over the cores.
export OPENBLAS_NUM_THREADS := 1

.PHONY: setup run serve test lint docs screenshots bench accuracy clean
.DEFAULT_GOAL := run

setup: $(VENV)/ready

$(VENV)/ready: requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Foible needs Python 3.11 or later: make PYTHON=python3.12")'
	@echo "Setting up in $(VENV) (once) …"
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --requirement requirements.lock
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

run: setup
	@$(BIN)/foible diagnose $(CASE)
	@echo
	@$(BIN)/foible score examples/published

serve: setup
	@$(BIN)/foible serve --demo

test: setup
	@tests/get-chromium.sh
	@tests/get-postgresql.sh
	@$(BIN)/python -m pytest

lint: setup
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/mypy tests benchmarks docs

docs: setup
	@$(BIN)/python docs/build.py
	@$(BIN)/python docs/make_testability.py

screenshots: setup
	@$(BIN)/python -m docs.make_screenshots

bench: setup
	@$(BIN)/python benchmarks/networks.py
	@$(BIN)/python benchmarks/updates.py
	@$(BIN)/python -m benchmarks.pages
	@$(BIN)/python -m benchmarks.load

accuracy: setup
	@$(BIN)/python -m benchmarks.accuracy

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache
