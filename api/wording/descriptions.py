"""Questions about typed descriptions of sprockets, and why a line is none."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

PARTS = {
    "bearing": gettext_lazy("a bearing"),
    "bush": gettext_lazy("a bush"),
    "chain": gettext_lazy("a chain"),
    "coupling": gettext_lazy("a coupling"),
    "gear": gettext_lazy("a gear"),
    "guard": gettext_lazy("a guard"),
    "hub": gettext_lazy("a hub"),
    "key": gettext_lazy("a key"),
    "link": gettext_lazy("a link"),
    "motor": gettext_lazy("a motor or gearbox"),
    "pulley": gettext_lazy("a belt or pulley"),
    "set_screw": gettext_lazy("a set screw"),
    "shaft": gettext_lazy("a shaft"),
    "spring": gettext_lazy("a spring"),
}


def named_part(values: Mapping[str, Any]) -> str:
    return str(PARTS.get(str(values["part"]), gettext_lazy("another part")))


def _not_a_sprocket(values: Mapping[str, Any]) -> str:
    return _("The line names {part}, not a sprocket.").format(part=named_part(values))


def _which_part(values: Mapping[str, Any]) -> str:
    return _("Is it a sprocket, or {part}?").format(part=named_part(values))


def _which_chain(values: Mapping[str, Any]) -> str:
    if not values["candidates"]:
        return _("“{text}” is the pitch of no chain in the table. Which chain is meant?").format_map(values)
    return _("“{text}” fits several chains: {candidates}. Which one is meant?").format_map(values)


SENTENCES = {
    "bore_beyond_hub": gettext_lazy(
        "The bore of {bore_mm:size} leaves nothing of a hub that clears the chain, at most {hub_diameter_mm:size}: check bore, chain and teeth."
    ),
    "bore_beyond_teeth": gettext_lazy(
        "The bore of {bore_mm:size} is not smaller than the root diameter of the teeth, {root_mm:size}: check bore, chain and teeth."
    ),
    "bore_not_in_vocabulary": gettext_lazy(
        "“{text}” is a bore that a specification cannot describe. What does the shaft need?"
    ),
    "bore_not_of_bush": gettext_lazy(
        "Bush {bush_size} has no bore of {bore_mm:size}. Is the size or the bore wrong?"
    ),
    "bore_not_plausible": gettext_lazy(
        "A bore of {bore_mm:size} is not plausible: check the number and its unit."
    ),
    "bush_or_other_number": gettext_lazy("Is {text} the size of a taper bush, or another number?"),
    "chain_not_given": gettext_lazy("The chain is not stated. Which chain does it run with?"),
    "chains_contradict": gettext_lazy("{first} and {second} are different chains. Which one is meant?"),
    "code_in_longer_number": gettext_lazy(
        "“{text}” is part of a longer number. Does it describe the sprocket?"
    ),
    "doubt_in_text": gettext_lazy("The line itself expresses a doubt: “{text}”."),
    "effective_or_actual_teeth": gettext_lazy(
        "Double pitch: are {teeth} the effective teeth, or the actual ones?"
    ),
    "hub_beyond_teeth": gettext_lazy(
        "A hub of {hub_diameter_mm:size} is not smaller than the pitch diameter, {pitch_diameter_mm:size}: check the number."
    ),
    "key_does_not_suit_bore": gettext_lazy(
        "A keyway of {width_mm:size} does not suit a bore of {bore_mm:size}. Which number is wrong?"
    ),
    "key_size_not_known": gettext_lazy(
        "{width_mm:mm} × {other_mm:mm} is neither the section of a key nor a keyway in the key tables: check both numbers."
    ),
    "key_width_not_known": gettext_lazy("No key table has a width of {width_mm:size}: check the number."),
    "length_has_two_readings": gettext_lazy("“{text}” can be the bore or the pitch. Which one is it?"),
    "no_sprocket_named": gettext_lazy("The line does not name a sprocket."),
    "no_word_for_sprocket": gettext_lazy("The line names a chain or teeth, but no part. Is it a sprocket?"),
    "not_a_sprocket": _not_a_sprocket,
    "nothing_to_describe": gettext_lazy(
        "A description is written for a sprocket whose chain and teeth are recorded: complete the specification."
    ),
    "number_has_two_readings": gettext_lazy("“{text}” can be read in two ways. What does it mean?"),
    "number_of_word_unclear": gettext_lazy(
        "It is not clear which number belongs to the word beside it: “{text}”."
    ),
    "numbers_not_read": gettext_lazy("Not understood: {pieces}. What does it mean?"),
    "one_part_or_several": gettext_lazy("Is it one sprocket, or a set?"),
    "outside_not_of_teeth": gettext_lazy(
        "An outside diameter of {outside_diameter_mm:size} does not suit a pitch diameter of {pitch_diameter_mm:size}:"
        " check chain, teeth and the number."
    ),
    "other_part_in_text": gettext_lazy("The line also names {text}. Which part is it?"),
    "record_does_not_allow": gettext_lazy("The record does not allow what was read: {rule}"),
    "record_is_another_part": gettext_lazy(
        "The record says that it is a {kind:words}, the description a sprocket. Check the part."
    ),
    "description_contradicts_record": gettext_lazy(
        "The record says something else ({attributes:words}), so nothing is filled. Check the part."
    ),
    "several_parts_in_line": gettext_lazy("The line names several parts: split the record."),
    "teeth_not_given": gettext_lazy("The number of teeth is not stated. Count them."),
    "teeth_not_marked": gettext_lazy("Is {teeth} the number of teeth?"),
    "teeth_out_of_range": gettext_lazy("{teeth} teeth: a sprocket has {least} to {most}. Count them."),
    "unit_not_given": gettext_lazy("“{text}” has no unit: is it in mm, or in inches?"),
    "values_contradict": gettext_lazy(
        "“{first}” and “{second}” contradict each other ({attribute:words}). Which one is right?"
    ),
    "which_chain_is_meant": _which_chain,
    "which_part_is_it": _which_part,
    "word_has_two_readings": gettext_lazy("“{text}” has two meanings in storeroom text. Which one is meant?"),
    "word_not_understood": gettext_lazy("The word “{text}” is not understood. What does it mean?"),
}
