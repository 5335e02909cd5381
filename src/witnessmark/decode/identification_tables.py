"""Tables of the identification number. No makers: a country is where its maker is registered.

Sources: values, weights and years 49 CFR 565.15 (Tables III to VII), also ISO 3779; the letters never used
49 CFR 565.13 and ISO 3779; regions and countries ISO 3780 as assigned by SAE (from memory, compared with a
general library).
"""

from __future__ import annotations

LENGTH = 17  # ISO 3779
CHECK_AT = 9  # 49 CFR 565.15; positions are counted from 1, as people do
YEAR_AT = 10  # 49 CFR 565.15
CYCLE_YEARS = 30  # 49 CFR 565.15 Table VII
FIRST_YEAR = 1980  # 49 CFR 565.15 Table VII

# 49 CFR 565.15 Table III: I, O and Q do not occur.
VALUES: dict[str, int] = {digit: int(digit) for digit in "0123456789"} | {
    letter: value
    for letters, value in (
        ("AJ", 1), ("BKS", 2), ("CLT", 3), ("DMU", 4), ("ENV", 5), ("FW", 6), ("GPX", 7), ("HY", 8), ("RZ", 9),
    )
    for letter in letters
}  # fmt: skip

# 49 CFR 565.15 Table IV, position 1 to 17; the check digit itself counts nothing.
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)

# 49 CFR 565.15 Table VII: 1980 is A, 2010 is A again. I, O, Q, U, Z and 0 do not occur.
YEAR_SIGNS = "ABCDEFGHJKLMNPRSTVWXY123456789"

NEVER = {"I": "1", "O": "0", "Q": "0"}  # and what was probably meant
# Letters of other alphabets that look like one of ours (from memory).
ALIKE = str.maketrans("АВЕКМНОРСТХУІЅЈΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTXYISJABEZHIKMNOPTYX")

# Signs that are mistaken for each other when read off a frame or typed (common practice, no source).
MISTAKEN = ("B8", "S5", "Z2", "G6", "D0", "17", "1L", "UV", "MN", "CG")
LESS_MISTAKEN = (
    "1J", "A4", "EF", "PR", "68", "38", "56", "T7", "VY", "KX", "HN", "MW", "89", "3B", "CE", "08", "06", "UJ",
    "PF", "0C", "0G", "49", "27", "XY", "VW",
)  # fmt: skip

# ISO 3780 by the first sign. H was Africa's and is Asia's, 7F to 70 were Oceania's and are the United States' (from
# memory): a pair that is assigned to a country has that country's region.
REGIONS = (
    ("ABCDEFG", "Africa"), ("HJKLMNPR", "Asia"), ("STUVWXYZ", "Europe"), ("12345", "North America"),
    ("67", "Oceania"), ("890", "South America"),
)  # fmt: skip
MOVED = {"United States": "North America"}  # countries with pairs under another region's first sign

ORDER = "ABCDEFGHJKLMNPRSTUVWXYZ1234567890"

COUNTRIES: tuple[tuple[str, str], ...] = (
    ("AA-AH", "South Africa"), ("BF-BG", "Kenya"), ("BL-BL", "Nigeria"), ("CA-CB", "Egypt"), ("CF-CG", "Morocco"),
    ("HA-H0", "China"), ("JA-J0", "Japan"), ("KF-KH", "Israel"), ("KL-KR", "South Korea"), ("LA-L0", "China"),
    ("MA-ME", "India"), ("MF-MK", "Indonesia"), ("ML-MR", "Thailand"), ("MS-MS", "Myanmar"), ("MZ-MZ", "India"),
    ("NA-NE", "Iran"), ("NF-NG", "Pakistan"), ("NL-NR", "Turkey"), ("PA-PC", "Philippines"), ("PF-PG", "Singapore"),
    ("PL-PR", "Malaysia"), ("RF-RK", "Taiwan"), ("RL-RN", "Vietnam"), ("SA-SM", "United Kingdom"),
    ("SN-ST", "Germany"), ("SU-SZ", "Poland"), ("TA-TH", "Switzerland"), ("TJ-TP", "Czech Republic"),
    ("TR-TV", "Hungary"), ("TW-T2", "Portugal"), ("UH-UM", "Denmark"), ("UN-UR", "Ireland"), ("UU-UW", "Romania"),
    ("U5-U7", "Slovakia"), ("VA-VE", "Austria"), ("VF-VR", "France"), ("VS-VW", "Spain"), ("VX-V2", "Serbia"),
    ("V3-V5", "Croatia"), ("V6-V8", "Estonia"), ("WA-W0", "Germany"), ("XA-XC", "Bulgaria"), ("XF-XH", "Greece"),
    ("XL-XR", "Netherlands"), ("XS-XW", "Russia"), ("X3-X0", "Russia"), ("YA-YE", "Belgium"), ("YF-YK", "Finland"),
    ("YS-YW", "Sweden"), ("YX-Y2", "Norway"), ("Y6-Y8", "Ukraine"), ("ZA-ZU", "Italy"), ("ZX-ZZ", "Slovenia"),
    ("1A-10", "United States"), ("2A-25", "Canada"), ("3A-3X", "Mexico"), ("4A-40", "United States"),
    ("5A-50", "United States"), ("6A-6X", "Australia"), ("7A-7E", "New Zealand"), ("7F-70", "United States"),
    ("8A-8E", "Argentina"), ("8F-8G", "Chile"), ("8X-8Z", "Venezuela"), ("9A-9E", "Brazil"), ("9F-9G", "Colombia"),
    ("9S-9V", "Uruguay"), ("93-99", "Brazil"),
)  # fmt: skip
