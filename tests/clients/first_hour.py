"""The guide `Your first hour`, run by a Python client that was generated from the OpenAPI document.

    python first_hour.py http://127.0.0.1:8000 TOKEN

`.ci/clients` generates the client as the package `spares_client` and runs this.
"""

import sys
from datetime import datetime
from typing import Any

from spares_client import AuthenticatedClient, models
from spares_client.api.areas import create_area
from spares_client.api.drives import create_drive
from spares_client.api.equipment import create_machine
from spares_client.api.events import list_event_types, list_events
from spares_client.api.items import change_item, create_item, read_item
from spares_client.api.movements import book_movement
from spares_client.api.plants import create_plant
from spares_client.api.positions import create_position, find_substitutes_for_position
from spares_client.api.reservations import reserve_part
from spares_client.api.specifications import create_specification
from spares_client.api.storerooms import create_storeroom
from spares_client.api.webhooks import list_webhooks, subscribe_webhook
from spares_client.api.work_orders import send_work_order

AT = "2026-03-02T03:10:00+00:00"


def main(address: str, token: str) -> None:
    client = AuthenticatedClient(address, token)

    def done(call: Any, status: int, *args: Any, model: Any = None, body: Any = None, **more: Any) -> Any:
        if model is not None:
            more["body"] = model.from_dict(body)
        answer = call.sync_detailed(*args, client=client, **more)
        assert answer.status_code == status, (call.__name__, answer.status_code, answer.content[:500])
        assert answer.parsed is not None, (call.__name__, answer.content[:500])
        return answer

    room = {"code": "HB-MAIN", "name": "Hillbrook stores", "timezone": "Europe/London", "pick_minutes": 10}
    done(create_storeroom, 201, model=models.StoreroomRequest, body=room)
    plant = {"code": "HB", "name": "Hillbrook maltings", "timezone": "Europe/London", "storeroom": "HB-MAIN"}
    done(create_plant, 201, model=models.PlantRequest, body=plant)
    rim = {
        "kind": "sprocket",
        "chain": "08B",
        "teeth": 19,
        "strands": 1,
        "hub_style": "B",
        "bore_type": "finished",
    }
    sizes = {"bore_mm": 25, "keyway_width_mm": 8, "key_standard": "ISO 773", "material": "carbon_steel"}
    made = done(create_specification, 201, model=models.SpecificationRequest, body=rim | sizes).parsed
    item = {"stock_number": "HB-1019", "description": "Sprocket 08B 19 teeth", "specification": made.id}
    done(create_item, 201, model=models.ItemRequest, body=item)
    done(create_area, 201, model=models.AreaRequest, body={"plant": "HB", "code": "INT", "name": "Intake"})
    machine = {"tag": "HB-INT-SC01", "area": "HB/INT", "name": "Screw conveyor 1"}
    done(create_machine, 201, model=models.EquipmentRequest, body=machine)
    drive = {
        "tag": "HB-INT-SC01-D1",
        "equipment": "HB-INT-SC01",
        "name": "Drive",
        "chain": "08B",
        "strands": 1,
    }
    done(create_drive, 201, model=models.DriveRequest, body=drive)
    place = {"tag": "HB-INT-SC01-D1-DRV", "drive": "HB-INT-SC01-D1", "role": "driver", "teeth": 19}
    shaft = {"shaft_kind": "keyed", "shaft_diameter_mm": 25, "key_width_mm": 8, "key_standard": "ISO 773"}
    done(create_position, 201, model=models.PositionRequest, body=place | shaft)

    receipt = {
        "kind": "receipt",
        "item": "HB-1019",
        "storeroom": "HB-MAIN",
        "quantity": 2,
        "reference": "DN-1",
    }
    first = done(book_movement, 201, model=models.MovementRequest, body=receipt, idempotency_key="receipt-1")
    again = done(book_movement, 201, model=models.MovementRequest, body=receipt, idempotency_key="receipt-1")
    assert first.parsed.id == again.parsed.id
    assert again.headers["Idempotency-Replayed"] == "true"

    done(list_event_types, 200)
    hook = {"url": "http://127.0.0.1:8080/spares", "types": ["stock.moved"]}
    done(subscribe_webhook, 201, model=models.WebhookRequest, body=hook)
    assert done(list_webhooks, 200).parsed.results[0].previous_secret_until is None

    order = {"title": "Driver worn", "kind": "corrective", "status": "open", "position": place["tag"]}
    dates = {"opened_at": AT, "updated_at": AT}
    done(send_work_order, 201, "maintenance", "WO-1", model=models.WorkOrderRequest, body=order | dates)
    found = done(find_substitutes_for_position, 200, place["tag"], storeroom="HB-MAIN").parsed
    assert found.results[0].item.stock_number == "HB-1019"
    held = {"item": "HB-1019", "storeroom": "HB-MAIN", "quantity": 1, "work_order": "WO-1"}
    done(reserve_part, 201, model=models.ReservationRequest, body=held, idempotency_key="reserve-1")
    issue = {**held, "kind": "issue", "position": place["tag"]}
    done(book_movement, 201, model=models.MovementRequest, body=issue, idempotency_key="issue-1")
    refused = done(
        book_movement,
        409,
        model=models.MovementRequest,
        body=issue | {"quantity": 9},
        idempotency_key="issue-2",
    )
    assert "found" in [str(one.action) for one in refused.parsed.remedies]

    later = {"status": "closed", "closed_at": "2026-03-02T05:40:00Z", "updated_at": "2026-03-02T05:45:00Z"}
    used = {"failure": {"mechanism": "wear"}, "parts_used": [{"item": "HB-1019", "quantity": 1}]}
    told = done(
        send_work_order,
        200,
        "maintenance",
        "WO-1",
        model=models.WorkOrderRequest,
        body=order | dates | later | used,
    )
    assert [str(one.code) for one in told.parsed.notes] == ["booked_for_order_before"]
    events = done(list_events, 200).parsed.results
    moved = [one for one in events if one.type_ == "stock.moved"]
    assert [one.data.change for one in moved] == [2, -1]
    assert isinstance(moved[0].occurred_at, datetime)

    tag = done(read_item, 200, "HB-1019").headers["ETag"]
    days = {"lead_time_days": 21}
    done(change_item, 200, "HB-1019", model=models.PatchedItemRequest, body=days, if_match=tag)
    done(change_item, 412, "HB-1019", model=models.PatchedItemRequest, body=days, if_match=tag)
    print("The Python client ran the guide.")


if __name__ == "__main__":
    main(*sys.argv[1:])
