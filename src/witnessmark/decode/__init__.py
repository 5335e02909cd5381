"""Markings and codes, read by open standards: identification numbers, trouble codes, tyres, chains, batteries.

Each reader answers, or raises `DecodeError`; what it read only in part is shown beside what it read.
"""

from witnessmark.decode.batteries import Battery, read_battery
from witnessmark.decode.blinks import Blinked, Counting, read_blinks
from witnessmark.decode.chains import (
    CHAINS,
    Chain,
    ChainMarking,
    elongation_percent,
    length_at,
    published_limit,
    read_chain,
    wear_words,
)
from witnessmark.decode.comparison import Comparison, ReadOut, compare
from witnessmark.decode.errors import DecodeError
from witnessmark.decode.identification import (
    Identification,
    check_digit,
    model_years,
    read_identification,
    slips,
)
from witnessmark.decode.identification_words import Described, told
from witnessmark.decode.pasted import Pasted, Seen, Unread, read_pasted
from witnessmark.decode.responses import Listed, Response, read_response
from witnessmark.decode.trouble_codes import (
    Code,
    code_of,
    failure_words,
    is_there,
    is_untested,
    read_code,
    status_bits,
    status_words,
)
from witnessmark.decode.tyre_dates import MadeIn, age_words, age_years, read_date_code
from witnessmark.decode.tyre_pressure import pressure_at
from witnessmark.decode.tyre_sizes import TyreSize
from witnessmark.decode.tyre_tables import LOAD_KG, SPEED_KMH, TREAD_LIMITS, TreadLimit
from witnessmark.decode.tyres import (
    Marking,
    Rating,
    read_marking,
    speed_kmh,
    speed_words,
    tread_limit,
    tread_words,
)

__all__ = [
    "CHAINS",
    "LOAD_KG",
    "SPEED_KMH",
    "TREAD_LIMITS",
    "Battery",
    "Blinked",
    "Chain",
    "ChainMarking",
    "Code",
    "Comparison",
    "Counting",
    "DecodeError",
    "Described",
    "Identification",
    "Listed",
    "MadeIn",
    "Marking",
    "Pasted",
    "Rating",
    "ReadOut",
    "Response",
    "Seen",
    "TreadLimit",
    "TyreSize",
    "Unread",
    "age_words",
    "age_years",
    "check_digit",
    "code_of",
    "compare",
    "elongation_percent",
    "failure_words",
    "is_there",
    "is_untested",
    "length_at",
    "model_years",
    "pressure_at",
    "published_limit",
    "read_battery",
    "read_blinks",
    "read_chain",
    "read_code",
    "read_date_code",
    "read_identification",
    "read_marking",
    "read_pasted",
    "read_response",
    "slips",
    "speed_kmh",
    "speed_words",
    "status_bits",
    "status_words",
    "told",
    "tread_limit",
    "tread_words",
    "wear_words",
]
