"""TOML files from strangers: where a key stands, and the shape of a table, every fault at its line."""
