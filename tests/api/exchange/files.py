"""A small malting plant as files, in the order in which they are loaded."""

import io

from api.exchange.files import read_file
from api.exchange.results import ImportResult
from api.exchange.run import run_import
from api.wording.sentences import sentence

PLANT = {
    "machine-shops": "code,name,timezone,call_out_minutes,phone\nSHOP,Shop behind the kiln,Europe/Vienna,90,+43 1 000\n",
    "storerooms": (
        "code,name,site,timezone,machine_shop,pick_minutes,call_out_minutes\n"
        "MAIN,Main storeroom,Weir Lane,Europe/Vienna,SHOP,10,45\n"
        "NORTH,North storeroom,North Quay,Europe/Vienna,,,\n"
    ),
    "bins": "storeroom,code\nMAIN,A-01\nMAIN,A-02\nNORTH,A-01\n",
    "opening-hours": (
        "storeroom,machine_shop,weekday,opens,closes\nMAIN,,0,06:00,14:00\nMAIN,,0,15:00,22:00\n,SHOP,0,07:00,15:00\n"
    ),
    "transfer-times": "from_storeroom,to_storeroom,minutes\nMAIN,NORTH,40\nNORTH,MAIN,40\n",
    "shop-times": "operation,minutes,basis,note\nbore,35,recorded,\ncut_keyseat,25,,by hand\n",
    "rules": "name,value,note\nheavy_mass_kg,20.0,kiln drives\n",
    "plants": "code,name,timezone,storeroom,machine_shop\nWEIR,Weir Lane,Europe/Vienna,MAIN,SHOP\n",
    "areas": "plant,code,name\nWEIR,STEEP,Steeping\nWEIR,KILN,Kilning\n",
    "equipment": "tag,plant,area,name,standby\nWL-EL-01,WEIR,STEEP,Steep elevator,no\n",
    "drives": (
        "tag,equipment,name,chain,strands,links,centre_distance_mm,power_kw,environment,lifting\n"
        "WL-EL-01-D1,WL-EL-01,Head drive,40,1,118,508,1.1,washdown;food,false\n"
    ),
    "positions": (
        "tag,drive,name,role,teeth,shaft_kind,shaft_diameter_mm,key_width_mm\n"
        "WL-EL-01-D1-A,WL-EL-01-D1,Motor side,driver,17,keyed,25,8\n"
        "WL-EL-01-D1-B,WL-EL-01-D1,Head shaft,driven,38,keyed,1 15/16 in,1/2 in\n"
    ),
    "items": (
        "stock_number,description,unit,unit_cost,lead_time_days,replaced_by,kind,chain,strands,teeth,hub_style,bore_mm\n"
        "004711,Kettenrad 08A-1 17Z,each,23.50,14,,sprocket,40,1,17,B,25\n"
        "004712,Kettenrad 08A-1 38Z,each,61.00,14,,sprocket,40,1,38,B,1-15/16\n"
        "004713,Chain 40 in boxes,link,0.90,7,,chain,40,1,,,\n"
        "004714,Old motor sprocket,each,,,004711,sprocket,08A,1,17,B,25\n"
        "004715,Grease gun,each,19.00,,,,,,,,\n"
    ),
    "movements": (
        "reference,kind,item,storeroom,bin,condition,quantity,to_storeroom,counted,piece_links,work_order,position,"
        "reason,unit_cost,occurred_at\n"
        "M-1,receipt,004711,MAIN,A-01,,5,,,,,,,23.50,2024-01-08T08:00:00+01:00\n"
        "M-2,receipt,004713,MAIN,A-02,new,300,,,120,,,,0.90,2024-01-08T08:05:00+01:00\n"
        "M-3,issue,004711,MAIN,,,1,,,,WO-7,WL-EL-01-D1-A,,,2024-02-01T06:30:00+01:00\n"
        "M-4,transfer,004711,MAIN,A-01,,1,NORTH,,,,,,,2024-02-02T06:30:00+01:00\n"
        "M-5,count,004711,MAIN,,,,,2,,,,yearly count,,2024-12-30T10:00:00+01:00\n"
    ),
    "installations": (
        "position,item,installed_at,installed_why,removed_at,ended_by,mechanism,running_hours,age_basis,work_order\n"
        "WL-EL-01-D1-A,004711,2019-05-06T09:00:00+02:00,new drive,2024-02-01T07:30:00+01:00,failure,wear,21000,calendar,WO-7\n"
        "WL-EL-01-D1-A,004711,2024-02-01T07:30:00+01:00,,,,,,,\n"
        "WL-EL-01-D1-B,004712,2019-05-06T09:00:00+02:00,,,,,,,\n"
    ),
    "inspections": (
        "position,at,elongation_percent,hooked_teeth,running_hours,note\n"
        "WL-EL-01-D1-A,2023-11-20T10:00:00+01:00,1.7,yes,,renew at shutdown\n"
    ),
    "requests": (
        "reference,at,item,position,storeroom,quantity,result,issued_item,work_order\n"
        "RQ-1,2024-02-01T06:20:00+01:00,004711,WL-EL-01-D1-A,MAIN,1,filled,004711,WO-7\n"
        "RQ-2,2024-05-06T06:20:00+02:00,004712,,MAIN,2,not_filled,,\n"
    ),
    "supply-orders": (
        "source,external_id,item,storeroom,quantity,ordered_at,promised_on,received_quantity,received_at,emergency,"
        "unit_price,currency,status\n"
        "purchasing,PO-1,004711,MAIN,2,2024-02-02T08:00:00+01:00,2024-02-16,2,2024-02-19T09:30:00+01:00,false,23.50,EUR,"
        "received\n"
        "purchasing,PO-2,004712,MAIN,1,2024-05-06T08:00:00+02:00,2024-05-20,,,no,61.00,,\n"
    ),
    "delivery-checks": (
        "reference,source,external_id,quantity,checked_at,teeth,strands,tooth_width_mm,wrong\n"
        "DC-1,purchasing,PO-2,1,2024-05-21T08:00:00+02:00,,,,rusty\n"
    ),
    "stock-policies": (
        "item,storeroom,stocked,reorder_point,order_up_to,reason\n"
        "004711,MAIN,true,1,3,two elevators run on it\n"
        "004714,MAIN,false,-1,0,\n"
    ),
    "service-targets": "importance,kind,value,tolerable_wait_hours,note\nvital,fill_rate,0.99,,\nunknown,,0.95,24,\n",
    "source-answers": "source,kind,about,name,answer\nwest,items,heading,Zähne,teeth\n",
}


def load(kind: str, text: str | None = None, **options: bool) -> ImportResult:
    """Import a text as a file of the kind; the plant's own where none is given."""
    content = PLANT[kind] if text is None else text
    sheet = read_file(io.BytesIO(content.encode()), name=f"{kind}.csv", kind=kind)
    return run_import(kind, sheet, by="marta", **options)


def load_up_to(last: str) -> None:
    """Import the plant's files in order, the last one included."""
    for kind in PLANT:
        result = load(kind)
        assert result.is_accepted, (kind, result.problems, result.row_results)
        if kind == last:
            return


def sentences(result: ImportResult) -> list[tuple[int, str, str]]:
    """Line, column and sentence of everything that was found wrong."""
    return [
        (row.line, error.column, sentence(error.fact)) for row in result.row_results for error in row.errors
    ]
