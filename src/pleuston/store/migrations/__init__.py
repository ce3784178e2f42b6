"""The steps from each schema of the database to the next."""
