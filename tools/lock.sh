#!/usr/bin/env bash
# Resolves requirements.lock (run and build) and requirements-dev.lock (all), with hashes.
# No index address and no local path may stand in them, so both are left out and looked for.
set -euo pipefail
cd "$(dirname "$0")/.."
uv=${1:-uv}
common=(--universal --python-version 3.11 --generate-hashes --no-header --no-annotate
  --no-emit-index-url --no-emit-find-links --quiet)
"$uv" pip compile pyproject.toml --group build "${common[@]}" --output-file requirements.lock
"$uv" pip compile pyproject.toml --group build --group test --group lint \
  --constraint requirements.lock "${common[@]}" --output-file requirements-dev.lock
if grep -nE '://|^/|^\.' requirements.lock requirements-dev.lock; then
  echo "lock: a lock file names a host or a path; take it out" >&2
  exit 1
fi
