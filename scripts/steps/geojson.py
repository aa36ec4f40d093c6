"""After step 9, where it is asked for: the table of fields as GeoJSON."""

from headland.files import step, writing
from headland.record import geojson_tables


def main() -> None:
    files = step.Files(geojson_tables.READS, {}, ("geojson",))
    writing.write_json(files.paths["geojson"], geojson_tables.of_files(files))


if __name__ == "__main__":
    step.run(main)
