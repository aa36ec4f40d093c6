"""What lasts: archive, verification, changes, season, netCDF."""
