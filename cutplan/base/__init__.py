"""The ground floor: small modules that any room may use, each imported by its own name."""
