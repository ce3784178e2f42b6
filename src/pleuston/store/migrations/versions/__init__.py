"""One file for each schema, in order; `tools/migration.py` writes them."""
