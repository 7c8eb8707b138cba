"""Files read and written: the templates, TOML, and all of a sheet or none of it on the disk."""
