# The one surface for set-up, tests, service and benchmarks. Needs python3.11 or newer with venv, pip, and make.
PYTHON ?= $(firstword $(foreach version,3.11 3.12 3.13 3.14,$(shell command -v python$(version))) python3)
HYPOTHESIS_SEED ?= 0
BIN := .venv/bin
KERNELS := $(wildcard optimiser/kernels/*.c optimiser/kernels/*.h)
# the tests start hundreds of processes: without compiled modules each would compile all of them again (a third more time)
unexport PYTHONDONTWRITEBYTECODE

.PHONY: run test check lint sanitize kernel-mutants mutants serve benchmark wheels sbom pythons lock clean

run: .venv/.run-ready
	$(BIN)/barrier-orders plan sample_orders/tower/tower.xlsx --out out

test: .venv/.test-ready lint
	$(BIN)/python tests/ensure_browser.py
	$(BIN)/python -m tests.side_by_side --hypothesis-seed=$(HYPOTHESIS_SEED)

# While working: lint, types and the tests that are not slow.
check: .venv/.test-ready lint
	$(BIN)/python -m pytest -n 2 --dist loadfile -m "not slow"

lint: .venv/.test-ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# The kernels' tests with address and undefined-behaviour sanitizers; needs gcc.
sanitize: .venv/.test-ready
	$(BIN)/python -m tests.kernels.sanitized

# Faults put into the kernels, each of which their tests must find; some minutes.
kernel-mutants: .venv/.test-ready
	$(BIN)/python -m tests.kernels.mutants

# A sample of small faults put into each planning folder, which its tests must find; some hours.
mutants: .venv/.test-ready
	$(BIN)/python -m tests.mutation --slow --seed $(or $(MUTATION_SEED),1)

serve: .venv/.run-ready
	$(BIN)/barrier-orders serve

benchmark: .venv/.test-ready
	$(BIN)/python -m benchmarks

# Wheels for every platform, with the kernels compiled, and a source distribution, each twice and equal; beside them
# what `make sbom` makes.
wheels: .venv/.wheels-ready
	$(BIN)/python .ci/wheels.py

# What a release is made of: a bill of materials (CycloneDX) and the notices of licences, from the hashed lock.
sbom: .venv/.run-ready
	$(BIN)/python .ci/inventory.py

# The tests of `make check` and the sample tower on every Python here, 3.11 and newer; some minutes each.
pythons: .venv/.created
	$(BIN)/python .ci/pythons.py

# Maintainers only: rewrites the hashed locks (needs uv, which a bare machine has not and users do not need).
lock:
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate --extra service --extra build pyproject.toml -o requirements.lock
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate --extra service --extra build --extra test -c requirements.lock pyproject.toml -o requirements-test.lock
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate --extra wheels -c requirements.lock pyproject.toml -o requirements-wheels.lock
	uv pip compile -q --generate-hashes --universal --python-version 3.11 --no-emit-index-url --no-header --no-annotate tests/clients/requirements.in -o requirements-clients.lock

.venv/.created:
	$(PYTHON) -m venv .venv
	touch $@

.venv/.run-ready: .venv/.created requirements.lock pyproject.toml $(KERNELS)
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	# the kernels need a C compiler: the machine's own, or one from the package index
	command -v cc gcc clang >/dev/null || $(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-wheels.lock
	$(BIN)/python -m optimiser.kernels.building
	$(BIN)/pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps -e .
	touch $@

.venv/.test-ready: .venv/.run-ready requirements-test.lock requirements-clients.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	# the generator of the Python client asks for other versions than the tool: it has an environment of its own
	$(BIN)/python -m venv .venv/generator
	.venv/generator/bin/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-clients.lock
	touch $@

.venv/.wheels-ready: .venv/.run-ready requirements-wheels.lock
	$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-wheels.lock
	touch $@

clean:
	rm -rf .venv out build dist *.egg-info optimiser/kernels/*.so optimiser/kernels/*.dylib
