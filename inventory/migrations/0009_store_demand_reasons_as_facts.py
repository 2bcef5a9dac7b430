from django.db import migrations

ROWS_AT_ONCE = 500


def recorded(text):
    """Sentences from before facts were stored stay as they are."""
    return {"code": "recorded_text", "values": {"text": text}} if isinstance(text, str) else text


def text_of(one):
    """The sentence of any other code belongs to `api`; the next run writes it again."""
    return one["values"].get("text", one["code"]) if isinstance(one, dict) else one


def to_facts(evidence):
    if importance := evidence.get("importance"):
        importance["reason"] = recorded(importance.get("reason"))
    if prior := evidence.get("prior"):
        prior["family"] = None if prior.get("family") == "none" else recorded(prior.get("family"))
    if "looks" in evidence:
        evidence["inspections"] = [
            {"reasons": [recorded(row["basis"])], **{name: row[name] for name in row if name != "basis"}}
            for row in evidence.pop("looks")
        ]


def to_texts(evidence):
    if importance := evidence.get("importance"):
        importance["reason"] = text_of(importance.get("reason"))
    if prior := evidence.get("prior"):
        prior["family"] = text_of(prior.get("family")) or "none"
    if "inspections" in evidence:
        evidence["looks"] = [
            {
                "basis": " ".join(map(text_of, row["reasons"])),
                **{name: row[name] for name in row if name != "reasons"},
            }
            for row in evidence.pop("inspections")
        ]


def each(change):
    def run(apps, schema_editor):
        rows = apps.get_model("inventory", "Recommendation").objects.using(schema_editor.connection.alias)
        # Pages by key instead of one open cursor: the rows that it reads are those that are written.
        last = 0
        while page := list(rows.filter(pk__gt=last).order_by("pk")[:ROWS_AT_ONCE]):
            for row in page:
                change(row.evidence)
            rows.bulk_update(page, ["evidence"])
            last = page[-1].pk

    return run


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0008_describe_stocking_in_plain_words'),
    ]

    operations = [
        migrations.RunPython(each(to_facts), each(to_texts)),
    ]
