"""After step 9, where it is asked for: the tables of surfaces and fields as NetCDF."""

from headland.files import step, writing
from headland.record import netcdf_tables


def main() -> None:
    files = step.Files(netcdf_tables.READS, {}, ("netcdf",))
    with writing.whole(files.paths["netcdf"]) as part:
        part.write_bytes(netcdf_tables.of_files(files))


if __name__ == "__main__":
    step.run(main)
