"""Who gets times at all: adults, not in pregnancy, no large artery without a closure device; and what stays unknown withholds."""
import math

from model_kidney import age_on
from model_protocol import P, exact


def whole_french(size):
    """A fraction of a French counts as the next whole one."""
    return math.ceil(exact(size))


def contradicted(site):
    """Two sizes for one sheath: of 5.5 F and 6 F each is a 6 F sheath."""
    return any(whole_french(size) != whole_french(site["french"]) for size in site["sizes"])


def french(site):
    """The size that plans: unknown where it is not recorded or contradicted; a size that stands in text counts."""
    if site["french"] is None or contradicted(site):
        return None
    return whole_french(site["french"])


def withheld(record, failed=False):
    person, site = record.case["patient"], record.site
    if not person["birth"] or age_on(person["birth"], record.start) < P("case.adult-age") or record.risk("pregnancy"):
        return True
    if site["side"] is None:
        return True
    if site["vessel"] == "vein" or (site["closure"] in ("device", "suture") and not failed):
        return False
    size = french(site)
    return size is None or size >= P("case.large-bore")
