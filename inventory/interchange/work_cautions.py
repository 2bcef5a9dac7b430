"""The cautions of each kind of work. Common practice, no source."""

from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Operation

LATHE, SLOTTER, DRILL = fact("lathe_work"), fact("slotter_work"), fact("drill_work")
HOT_HUB = fact("heated_hub")

WORK_CAUTIONS: dict[Operation, tuple[Fact, ...]] = {
    Operation.BORE: (LATHE,),
    Operation.CUT_KEYSEAT: (SLOTTER,),
    Operation.DRILL_SET_SCREWS: (DRILL,),
    Operation.CHANGE_BUSH: (fact("bush_cone_dry"),),
    Operation.FACE_HUB: (LATHE,),
    Operation.TURN_HUB: (LATHE,),
    Operation.FIT_BEARING: (fact("bearing_in_press"), HOT_HUB),
    Operation.WELD_HUB: (fact("hot_work_permit"), HOT_HUB),
}
