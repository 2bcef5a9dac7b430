import re

from django.db import migrations

ROWS_AT_ONCE = 500
TARGET = re.compile(r"(?P<kind>[a-z_]+)(?: (?P<target>[0-9.e-]+))?(?:, wait (?P<wait>[0-9.,]+) h)?")
LEVELS = re.compile(r"order at (?P<point>[0-9]+) up to (?P<up_to>[0-9]+)")


def recorded(text):
    """Sentences from before facts were stored stay as they are."""
    return {"code": "recorded_text", "values": {"text": text}} if isinstance(text, str) else text


def amount(text):
    if not isinstance(text, str):
        return text
    number, _, currency = text.partition(" ")
    return {"code": "amount_input", "values": {"amount": number, "currency": currency}}


def target(text):
    found = TARGET.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        return text
    value, wait = found["target"], found["wait"]
    values = {
        "kind": found["kind"],
        "target": None if value is None else float(value),
        "tolerable_wait_hours": None if wait is None else float(wait.replace(",", "")),
    }
    return {"code": "target_input", "values": values}


def levels(text):
    found = LEVELS.fullmatch(text) if isinstance(text, str) else None
    if found:
        values = {"reorder_point": int(found["point"]), "order_up_to": int(found["up_to"])}
        return {"code": "levels", "values": values}
    codes = {"none held": "levels_none", "nothing set": "levels_not_set"}
    return {"code": codes[text], "values": {}} if text in codes else text


INPUTS = {"target": target, "unit_cost": amount, "downtime_per_hour": amount, "policy": levels}


def to_facts(row):
    row.explanation = [recorded(line) for line in row.explanation]
    row.since_last = [recorded(line) for line in row.since_last]
    inputs, lead_time = row.evidence.get("inputs"), row.evidence.get("lead_time")
    if inputs:
        row.evidence["inputs"] = {name: INPUTS.get(name, lambda one: one)(one) for name, one in inputs.items()}
    if lead_time and "sentence" in lead_time:
        row.evidence["lead_time"] = {
            "basis": lead_time["basis"],
            "reasons": [recorded(lead_time["sentence"])],
        }


def to_texts(row):
    row.explanation = [text_of(one) for one in row.explanation]
    row.since_last = [text_of(one) for one in row.since_last]
    lead_time = row.evidence.get("lead_time")
    if lead_time and "reasons" in lead_time:
        sentence = " ".join(text_of(one) for one in lead_time["reasons"])
        row.evidence["lead_time"] = {"basis": lead_time["basis"], "sentence": sentence}


def text_of(one):
    """The sentence of any other code belongs to `api`; the next run writes it again."""
    return one["values"].get("text", one["code"]) if isinstance(one, dict) else one


def each(change):
    def run(apps, schema_editor):
        rows = apps.get_model("inventory", "Recommendation").objects.using(schema_editor.connection.alias)
        # Pages by key instead of one open cursor: the rows that it reads are those that are written.
        last = 0
        while page := list(rows.filter(pk__gt=last).order_by("pk")[:ROWS_AT_ONCE]):
            for row in page:
                change(row)
            rows.bulk_update(page, ["explanation", "since_last", "evidence"])
            last = page[-1].pk

    return run


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0006_events_kits_counts_and_questions'),
    ]

    operations = [
        migrations.RunPython(each(to_facts), each(to_texts)),
    ]
