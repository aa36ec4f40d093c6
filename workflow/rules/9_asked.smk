# Beside the tables, for who asks for it (`also`): GeoJSON and NetCDF. Once made, they are kept up to date.


rule geojson:
    message:
        "Writing the fields as GeoJSON"
    input:
        code=code("geojson"),
        schemas=schemas("fields"),
        tables="{results}/fields.csv",
        outlines=lambda w: of(w).outlines,
    output:
        geojson=ALSO["geojson"],
    params:
        digests=lambda w: held(of(w).outlines),
        settings=lambda w: as_json(step_settings.asked(of(w).S, VERSION)),
    group:
        "campaign"
    log:
        steps("9_report", "geojson.log"),
    run:
        job("geojson", input, output, params, log)


rule netcdf:
    message:
        "Writing surfaces and fields as NetCDF"
    input:
        code=code("netcdf"),
        schemas=schemas("surfaces", "fields"),
        quantities="workflow/headland/quantities.csv",
        tables=["{results}/surfaces.csv", "{results}/fields.csv"],
    output:
        netcdf=ALSO["netcdf"],
    params:
        settings=lambda w: as_json(step_settings.asked(of(w).S, VERSION)),
    group:
        "campaign"
    log:
        steps("9_report", "netcdf.log"),
    run:
        job("netcdf", input, output, params, log)
