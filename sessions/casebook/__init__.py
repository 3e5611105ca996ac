"""The SQLite store, its migrations, the hash chain and the catalogue."""
