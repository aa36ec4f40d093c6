"""The works that print values of the tables beside this file."""

from __future__ import annotations

import re

BIB = "docs/references.bib"
"""What stands there in full is only named here."""

WORKS = (
    ("FAO-56", r"FAO-56|Harrison 1963; FAO-56", BIB),
    ("FAO 1990", r"FAO 1990", "Expert consultation on revision of FAO methodologies, Rome 1990, annex V"),
    ("FAO-24", r"FAO-24", "Doorenbos & Pruitt, Crop water requirements, FAO 1977"),
    ("ASCE-EWRI 2005", r"ASCE-EWRI 2005", BIB),
    ("JCGM 100:2008 (GUM)", r"JCGM 100", BIB),
    ("JCGM 101:2008", r"JCGM 101", BIB),
    ("EA-4/02", r"EA-4/02", "European Accreditation, Expression of uncertainty in calibration, 1999"),
    (
        "Eurachem QUAM",
        r"Eurachem QUAM",
        "Ellison, Rosslein & Williams (eds), Quantifying uncertainty in analytical measurement, 2000",
    ),
    ("NPL Guide 11", r"NPL Good", "Bell, A beginner's guide to uncertainty of measurement, NPL 1999"),
    ("Fisher 1925", r"Fisher 1925", "Statistical methods for research workers, Oliver & Boyd"),
    ("NIST StRD", r"NIST StRD", "NIST, Statistical reference datasets, 1998"),
    ("Brockwell & Davis", r"Brockwell", "Introduction to time series and forecasting, Springer 1996"),
    ("Wilks 2006", r"Wilks 2006", "Statistical methods in the atmospheric sciences, 2nd ed., Academic Press"),
    ("Long & Dutton 2002", r"Long & Dutton 2002", BIB),
    ("ISO 9060:2018", r"ISO 9060:2018", BIB),
    ("IEC 60751:2008", r"IEC 60751:2008", BIB),
    ("NIMA TR8350.2", r"NIMA TR8350\.2", BIB),
    ("Reda & Andreas 2004/2008", r"Reda & Andreas|Spencer 1971; Reda", BIB),
    ("Meeus 1998", r"Meeus 1998", "Astronomical algorithms, 2nd ed., Willmann-Bell"),
    ("almanac", r"almanac", "Nautical Almanac Office, Earth's seasons, 2023"),
    ("Nautical Almanac", r"The Nautical Almanac", "altitude correction tables"),
    ("Espenak", r"Espenak", "Earth at perihelion and aphelion: 2001 to 2100"),
    ("Lieske et al. 1977", r"Lieske", "Expressions for the precession quantities, Astron. Astrophys. 58"),
    ("Duffie & Beckman", r"Duffie & Beckman", "Solar engineering of thermal processes, Wiley 1991"),
    ("Erbs et al. 1982", r"Erbs et al\. 1982", BIB),
    ("Siegel & Howell", r"Siegel & Howell|Howell catalogue", BIB),
    ("Incropera & DeWitt", r"Incropera", "Fundamentals of heat and mass transfer, 4th ed., Wiley 1996"),
    ("Cengel", r"Cengel", "Heat transfer: a practical approach, McGraw-Hill 1998"),
    ("Holman", r"Holman", "Heat transfer, 7th ed., McGraw-Hill 1990"),
    ("Wallace & Hobbs 2006", r"Wallace", "Atmospheric science, 2nd ed., Academic Press"),
    ("Santanello & Friedl 2003", r"Santanello & Friedl 2003", BIB),
    ("de Vries 1963", r"de Vries 1963", BIB),
    (
        "van Wijk & de Vries 1963",
        r"van Wijk",
        "Periodic temperature variations, Physics of plant environment",
    ),
    ("Chow et al. 1988", r"Chow", "Chow, Maidment & Mays, Applied hydrology, McGraw-Hill"),
    ("Monteith & Unsworth", r"Monteith", "Principles of environmental physics, 2nd ed., Arnold 1990"),
    ("Smithsonian tables", r"Smithsonian", "List, Smithsonian meteorological tables, 6th ed., 1951"),
    ("IAPWS-IF97", r"IAPWS-IF97", "Industrial formulation 1997 for water and steam, IAPWS R7-97"),
    ("RFC 868", r"RFC 868", "Postel & Harrenstien, Time protocol, 1983"),
    ("RFC 3339", r"RFC 3339", "Klyne & Newman, Date and time on the internet: timestamps, 2002"),
    ("ISO 8601:2004", r"ISO 8601:2004", "Representation of dates and times"),
    ("FIPS 180-2", r"FIPS 180-2", "NIST, Secure hash standard, 2002"),
    ("ISO/IEC 7064", r"ISO/IEC 7064", "Check character systems, 2003"),
    ("ORCID", r"ORCID", "Structure of the ORCID identifier"),
)
"""Name, how a source begins that cites it, and the work itself."""


def work_of(source: str) -> str:
    """The name of the work that prints a value; empty for one that is not in the list."""
    return next((name for name, pattern, _ in WORKS if re.match(pattern, source)), "")
