"""A case as plain values, the common language of the generator, the FHIR writer and the oracle.

Instants are whole seconds since 1970 (UTC). A case is a dict that can be printed and read back:
  patient  {"birth": "1958-04-11" or None, "sex": "female", "male" or None}
  index    {"start": instant, "end": instant or None, "pci": True, False or None (a procedure of unknown purpose)}
  sites    [{"side", "vessel", "french", "closure": None is not recorded, "punctures": None or a number, "quality": [code],
             "size_in_text": the size stands in a note only, "sizes": a second size that contradicts}]; the first belongs to the index
  facts    [{"what": kind, "at": instant, ...}] in any order; "error": True means entered in error
Facts by kind (site is a position in sites):
  dose       agent, until (None: no end given), status, amount, unit, route (None: not recorded), flush
  lab        test, value, comparator (None: exact), analyser, from (where it was drawn; None: not recorded)
  pressure   systolic, diastolic
  check      site, bleeding, swelling, growth, pulse (None: not recorded), baseline (whether the pulses of before stand in it)
  statement  code
  event      code, site, method (None: not recorded)
  decision   gate, seen
  home       agent, last (None: not recorded)
  risk       name
"""
import datetime

MINUTE, HOUR, DAY = 60, 3600, 86400
UTC = datetime.timezone.utc


def instant(text):
    return int(datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp())


def text(seconds):
    """RFC 3339 in UTC, as the program writes it; None stays None."""
    if seconds is None:
        return None
    return datetime.datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


AS_OF = instant("2026-03-02T14:00:00Z")

LOW_MOLECULAR = ("enoxaparin", "dalteparin", "tinzaparin")
THROMBIN = ("bivalirudin", "argatroban")
GP_INHIBITORS = ("eptifibatide", "tirofiban", "abciximab")
ORAL = ("apixaban", "rivaroxaban", "edoxaban", "dabigatran")
LYTICS = ("alteplase", "tenecteplase", "reteplase")
PLATELET = ("aspirin", "clopidogrel", "prasugrel", "ticagrelor", "cangrelor")
REVERSAL = ("protamine", "vitamin k", "prothrombin complex", "idarucizumab", "andexanet alfa")
ANTICOAGULANTS = ("heparin",) + LOW_MOLECULAR + ("fondaparinux",) + THROMBIN + ORAL + ("warfarin",)
