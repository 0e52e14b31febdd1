# make run    set everything up and diagnose a published case
# make serve  set everything up and open Foible in the browser, with the demo's cases
# make test   set everything up and run all tests
# make test-quick   the quick ones: no browser, nothing slow
# make test-oldest  the quick ones with the oldest packages that pyproject.toml allows, in an environment of their own
# make coverage  the quick tests again with lines and branches counted; fails under the limit of pyproject.toml
# make programs  install the browser and the database server that the tests need, where that is allowed
# make lint   the linters
# make wheel  build the wheel, install it on its own, and start it
# make lock   write the lock files anew from pyproject.toml (make lock UPGRADE=1: with the newest releases)
# make docs   remake the pictures and tables of the documentation, the one of who imports whom among them
# make screenshots  take the pictures of Foible in the browser anew (needs Chromium)
# make benchmark  the times that users wait for, each beside a peer (twenty-five minutes)
# make compare BEFORE=…  the times and the digits of the accuracy study, beside another checkout's (two hours)
# make accuracy  simulate faults in many worlds, diagnose them with the whole program, write docs/accuracy.md (half an hour)
# make faults  kill, fill, lock, damage, mutate, keep silent, guess: what is lost, into docs/reliability.md (40 minutes; PART=killed: one part)
# make audit  which locked packages have known weaknesses, where the list of those can be had
# make container  build the container image, where podman or docker is there
# make speed BEFORE=…  seconds to the end of 1560 kept cases, and how rightly, beside another checkout's program (half an hour)

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OLDEST := .venv-oldest
WHEEL := .wheel
AUDIT := .venv-audit
QUICK := "not slow"
# On every core; tests/together.py says which tests stay together.
BESIDE := --numprocesses auto --no-loadscope-reorder
# The lock files name everything that is needed, so pip has nothing to work out; only what is imported is worth compiling.
PIP := --quiet --disable-pip-version-check --no-deps --no-compile
CASE := examples/published/foil-valid-white-opponent-cord-a-line.toml

# Matrices are small here; more threads only fight over the cores.
export OPENBLAS_NUM_THREADS := 1
# Python keeps what it has compiled, whatever the shell says: else each of some hundred processes compiles everything anew.
unexport PYTHONDONTWRITEBYTECODE

.PHONY: setup programs run serve test coverage test-quick test-oldest lint lint-rules lint-format lint-types lint-files wheel oldest lock docs screenshots benchmark compare accuracy faults speed audit container clean
.DEFAULT_GOAL := run

setup: $(VENV)/ready

$(VENV)/ready: requirements.lock requirements-dev.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Foible needs Python 3.11 or later: make PYTHON=python3.12")'
	@echo "Setting up in $(VENV) (once) …"
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install $(PIP) --requirement requirements.lock --requirement requirements-dev.lock
	@$(BIN)/python -m pip install $(PIP) --no-build-isolation --editable .
	@$(BIN)/python -m pip check --quiet
	@touch $@

run: setup
	@$(BIN)/foible diagnose $(CASE)
	@echo
	@$(BIN)/foible score examples/published

serve: setup
	@$(BIN)/foible serve --demo

test: setup programs
	@$(BIN)/python -m pytest $(BESIDE)

# Counting takes as long again as a third of the tests do, so it has a run of its own.
coverage: setup
	@$(BIN)/python -m pytest --cov -m $(QUICK) $(BESIDE)

# What the tests need of the distribution; with what is set up elsewhere beside it, nobody waits for the network.
programs:
	@tests/get-chromium.sh
	@tests/get-postgresql.sh

test-quick: setup
	@$(BIN)/python -m pytest -m $(QUICK) $(BESIDE)

# Old releases use what their own dependencies have since deprecated, which is neither their fault nor ours: here, and only here,
# such a warning is no error.
test-oldest: $(OLDEST)/ready
	@$(OLDEST)/bin/python -m pytest -m "not slow and not once" $(BESIDE) --assert=plain -W default::DeprecationWarning -W default::PendingDeprecationWarning

oldest: $(OLDEST)/ready

$(OLDEST)/ready: requirements-oldest.lock pyproject.toml
	@echo "Setting up the oldest packages allowed in $(OLDEST) (once) …"
	@$(PYTHON) -m venv $(OLDEST)
	@$(OLDEST)/bin/python -m pip install $(PIP) --requirement requirements-oldest.lock
	@$(OLDEST)/bin/python -m pip install $(PIP) --no-build-isolation --editable .
	@$(OLDEST)/bin/python -m pip check --quiet
	@touch $@

lint: lint-rules lint-format lint-types lint-files

lint-rules: setup
	@$(BIN)/ruff check .

lint-format: setup
	@$(BIN)/ruff format --check .

lint-types: setup
	@$(BIN)/mypy
	@$(BIN)/mypy --exclude '^tests/browser/' tests benchmarks docs .ci/*.py
	@MYPYPATH=tests $(BIN)/mypy tests/browser  # on its own: it has a conftest.py too

lint-files: setup
	@$(BIN)/python .ci/tidy.py

lock: setup
	@$(BIN)/python .ci/lock.py $(if $(UPGRADE),--upgrade)

docs: setup
	@$(BIN)/python -m docs.build
	@$(BIN)/python -m docs.make_testability

screenshots: setup
	@$(BIN)/python -m docs.make_screenshots

benchmark: setup
	@$(BIN)/python benchmarks/networks.py
	@$(BIN)/python benchmarks/updates.py
	@$(BIN)/python -m benchmarks.pages
	@$(BIN)/python -m benchmarks.load
	@$(BIN)/python -m benchmarks.calm
	@$(BIN)/python -m benchmarks.archive
	@$(BIN)/python -m benchmarks.register
	@$(BIN)/python -m benchmarks.startup
	@$(BIN)/python -m benchmarks.practice

compare: setup
	@test -n "$(BEFORE)" || { echo "make compare BEFORE=PATH: name the other checkout"; exit 2; }
	@$(BIN)/python -m benchmarks.against "$(BEFORE)"
	@$(BIN)/python -m benchmarks.same_digits "$(BEFORE)"

accuracy: setup
	@$(BIN)/python -m benchmarks.accuracy

faults: setup
	@$(BIN)/python -m benchmarks.faults $(PART)

speed: setup
	@test -n "$(BEFORE)" || { echo "make speed BEFORE=PATH: name the other checkout"; exit 2; }
	@$(BIN)/python -m benchmarks.speed "$(BEFORE)" --keep

audit:
	@test -x $(AUDIT)/bin/pip-audit || { $(PYTHON) -m venv $(AUDIT) && $(AUDIT)/bin/python -m pip install --quiet --disable-pip-version-check pip-audit==2.10.1; } || echo "The tool that audits cannot be had from here."
	@test ! -x $(AUDIT)/bin/pip-audit || $(AUDIT)/bin/python .ci/audit.py

container:
	@.ci/container

# Nothing of development is in the environment of the wheel: a run-time dependency that is missing from the wheel or the lock shows.
wheel: setup
	@rm -rf $(WHEEL)
	@$(BIN)/python -m build --wheel --no-isolation --outdir $(WHEEL) . >/dev/null
	@$(PYTHON) -m venv $(WHEEL)/venv
	@$(WHEEL)/venv/bin/python -m pip install $(PIP) --requirement requirements.lock $(WHEEL)/foible-*.whl
	@$(WHEEL)/venv/bin/python -m pip check
	@cd $(WHEEL) && venv/bin/foible --version && venv/bin/foible lamps sound >/dev/null && venv/bin/python $(CURDIR)/.ci/start.py
	@rm -rf $(WHEEL)

clean:
	rm -rf $(VENV) $(OLDEST) $(WHEEL) $(AUDIT) .coverage .coverage.* .pytest_cache .mypy_cache .ruff_cache
