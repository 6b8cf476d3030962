# The one surface for set-up, tests, service and benchmarks. Needs python3.11 with venv, pip, make and a C compiler.
PYTHON ?= python3.11
HYPOTHESIS_SEED ?= 0
BIN := .venv/bin
KERNELS := $(wildcard optimiser/kernels/*.c optimiser/kernels/*.h)

.PHONY: run test lint serve benchmark lock clean

run: .venv/.run-ready
	$(BIN)/barrier-orders plan sample_orders/tower/tower.xlsx --out out

test: .venv/.test-ready lint
	$(BIN)/python tests/ensure_browser.py
	$(BIN)/python -m pytest -n 2 --dist loadfile --hypothesis-seed=$(HYPOTHESIS_SEED)

lint: .venv/.test-ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

serve: .venv/.run-ready
	$(BIN)/barrier-orders serve

benchmark: .venv/.test-ready
	$(BIN)/python -m benchmarks

# Maintainers only: writes the hashed locks anew (needs uv, which a bare machine has not and users do not need).
lock:
	uv pip compile -q --generate-hashes --python-version 3.11 --no-emit-index-url --no-header --no-annotate pyproject.toml -o requirements.lock
	uv pip compile -q --generate-hashes --python-version 3.11 --no-emit-index-url --no-header --no-annotate --extra test pyproject.toml -o requirements-test.lock

.venv/.created:
	$(PYTHON) -m venv .venv
	touch $@

.venv/.run-ready: .venv/.created requirements.lock pyproject.toml $(KERNELS)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	touch $@

.venv/.test-ready: .venv/.run-ready requirements-test.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	touch $@

clean:
	rm -rf .venv out build *.egg-info optimiser/kernels/*.so
