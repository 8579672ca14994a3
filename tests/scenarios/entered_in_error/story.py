"""A case that never was: the Procedure is withdrawn after Tasks and a sheet had been written (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-12", 1)


def steps():
    p = Patient(DAY, "norbert", "Irrtum", "Norbert", "1965-03-03", "male")
    case = p.procedure("09:00", "09:40", "right", 6)
    rows = [*arrival(p, case, "09:50"),
            ("09:55", "checked", watch(p, "09:55", 128, 72, 70)),
            ("10:10", "the Procedure was entered in error", [{**case, "status": "entered-in-error"}])]
    yield from told(DAY, rows)
