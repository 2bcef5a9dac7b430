"""Four spreadsheets of an invented malting plant, as plants write them: `python -m tests.untidy_plant FOLDER` writes them.

Two languages, three ways to write a length, titles above the headings, rows of totals, empty columns. Nothing in them is of a real plant.
"""

import csv
import io
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import openpyxl

ITEMS, DRIVES = 500, 100
AREAS = ("Intake", "Steeping", "Germination", "Kilning", "Dispatch")
CHAINS = (("08B-1", "40"), ("10B-1", "50"), ("12B-1", "60"), ("16B-1", "80"), ("12B-2", "60-2"))
KEYS = {20: "6x6", 25: "8x7", 30: "8x7", 35: "10x8", 40: "12x8", 50: "14x9", 60: "18x11"}
"""Key section by shaft: ISO 773 (DIN 6885-1), from memory."""
TEETH = (15, 17, 19, 21, 23, 25, 38, 57)
KNOWN = "KC-001"
"""A drive that its chain carries easily, whose driver has an equal part in stock."""


@dataclass(frozen=True)
class Sprocket:
    number: str
    chain: str
    teeth: int
    bore: int


def sprockets() -> list[Sprocket]:
    shapes = [(chain, teeth, bore) for chain, _ in CHAINS for teeth in TEETH for bore in KEYS]
    return [Sprocket(f"K-{at:04d}", *shapes[at % len(shapes)]) for at in range(1, ITEMS - 59)]


def parts_list() -> bytes:
    """German, a workbook: millimetres, decimal commas typed as text, the sum of the prices below."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Ersatzteile"
    sheet.append(["Mälzerei Auwiesen – Ersatzteilliste Kettentriebe"])
    sheet.merge_cells("A1:K1")
    sheet.append(["Stand:", datetime(2026, 10, 1)])
    sheet.append([])
    sheet.append(
        ["Artikel-Nr.", "Bezeichnung", "Art", "Kette", "Zähne", "Bohrung [mm]", "Nut", None, "Nabe", "Werkstoff", "Preis €", "WBZ (Wochen)", "Bohrungsart", "Nabenlänge"]
    )  # fmt: skip
    sheet.append(["Kettenräder"])
    for at, one in enumerate(sprockets()):
        price = f"{1200 + at},50" if at % 40 == 0 else f"{20 + at % 70},{at % 100:02d}"
        sheet.append(
            [one.number, f"Kettenrad {one.chain} {one.teeth}Z", "Kettenrad", one.chain, f"{one.teeth}Z", one.bore,
             KEYS[one.bore], None, "Typ B", "Stahl C45" if at % 2 else "C45", price, 2 + at % 6, "fertig", 40]
        )  # fmt: skip
    sheet.append(["Passfedern und Sonstiges"])
    for at in range(59):
        sheet.append(
            [
                f"P-{at:03d}",
                f"Kleinteil {at}",
                "Sonstiges",
                "-",
                "-",
                "-",
                "-",
                None,
                "k.A.",
                "-",
                "0,85",
                1,
                "-",
            ]
        )
    sheet.append(
        [
            "Kettenrad-Muster",
            "Altbestand",
            "Zahnkranz",
            "12B-1",
            "19Z",
            35,
            "10x8",
            None,
            "A",
            "GG",
            "n/a",
            4,
            "fertig",
        ]
    )
    sheet.append(["Summe", None, None, None, None, None, None, None, None, None, "31.415,92"])
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def drive_rows() -> Iterator[list[object]]:
    made = random.Random(7)
    for at in range(1, DRIVES + 1):
        chain = CHAINS[(at + 1) % len(CHAINS)][1] if at > 1 else "12B-1"
        driver, driven = (19, 38) if at == 1 else made.choice([(17, 38), (19, 57), (15, 38), (21, 57)])
        shafts = (35, 50) if at == 1 else (made.choice(list(KEYS)), made.choice(list(KEYS)))
        power, speed = (1, 70) if at == 1 else (made.choice([2, 3, 5.5, 7.5]), made.choice([25, 48, 70]))
        yield [
            f"KC-{at:03d}", f"M-{(at + 1) // 2:03d}", f"Conveyor {(at + 1) // 2}", AREAS[at % len(AREAS)] if at % 2 else AREAS[(at - 1) % len(AREAS)],
            chain, 2 * made.randrange(45, 70), f"{made.randrange(20, 40)} 1/2", f"{power}", speed,
            f"{driver}T", f"{driven}T", f"{shafts[0]} mm", f"{shafts[1]} mm",
            KEYS[shafts[0]], KEYS[shafts[1]], "x" if at % 50 == 0 else "",
        ]  # fmt: skip


def drive_list() -> bytes:
    """English, CSV with commas: centres in inches, power in hp, shafts with their unit in the cell; units in a row of their own."""
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(["Chain drives, all areas"])
    writer.writerow(
        ["Drive No", "Machine", "Machine name", "Section", "Chain", "Links", "Centres", "Motor power", "Speed",
         "Driver teeth", "Driven teeth", "Shaft driver", "Shaft driven", "Key driver", "Key driven", "Hoist"]
    )  # fmt: skip
    writer.writerow(["", "", "", "", "", "", "in", "hp", "rpm", "", "", "", "", "", "", ""])
    writer.writerows(drive_rows())
    return stream.getvalue().encode()


def stock_list() -> bytes:
    """German, CSV with semicolons in Windows-1252: the day of the count as 03.04.2026, subtotals for each shelf."""
    lines = ["Lagerbestand Hauptlager;;;;", "Materialnummer;Lagerplatz;Menge;Gezählt am;Zähler"]
    for at, one in enumerate(sprockets()[:300]):
        lines.append(
            f"{one.number};R{at // 50 + 1}-{at % 50:02d};{1 + at % 4} Stk;{1 + at % 12:02d}.{1 + at % 9:02d}.2026;Müller"
        )
        if at % 50 == 49:
            lines.append("Zwischensumme;;125;;")
    lines.append("Gesamtsumme;;750;;")
    return "\r\n".join(lines).encode("cp1252")


def history() -> bytes:
    """English, a workbook with real dates: what was fitted at the driver, when it came off and why."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append(["Sprocket changes since 2015"])
    sheet.append([])
    sheet.append(
        [
            "Drive",
            "Part No",
            "Date fitted",
            "Date removed",
            "Removal reason",
            "Damage",
            "Running hours",
            "WO No",
        ]
    )
    parts = {(one.chain, f"{one.teeth}T", f"{one.bore} mm"): one.number for one in sprockets()}
    iso = {other: name for name, other in CHAINS}
    rows = list(drive_rows())
    for at in range(1, DRIVES + 1):
        fitted = date(2015, 1, 5) + timedelta(days=17 * at)
        removed = fitted + timedelta(days=600 + 3 * at)
        row = rows[at - 1]
        part = parts[iso.get(str(row[4]), str(row[4])), str(row[9]), str(row[11])]
        sheet.append(
            [
                f"KC-{at:03d}",
                part,
                fitted,
                removed,
                "Breakdown" if at % 3 else "planned",
                "worn",
                4200 + at,
                f"W{at}",
            ]
        )
        sheet.append([f"KC-{at:03d}", part, removed, None, None, None, None, None])
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


FILES = {
    "Ersatzteilliste.xlsx": parts_list,
    "Chain drives.csv": drive_list,
    "Lagerbestand.csv": stock_list,
    "Sprocket history.xlsx": history,
}

if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in FILES.items():
        (folder / name).write_bytes(make())
