"""Random sprockets typed as storerooms type them, in five languages: other words than the product's table, written down before it was tried.

Common practice, no source. Each line comes with the attributes that it states.
"""

import random
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

MM = Fraction("25.4")
LANGUAGES = ("en", "de", "fr", "es", "it")

NOUNS = {
    "en": [
        "SPROCKET",
        "SPKT",
        "SPRKT",
        "Sprocket",
        "CHAINWHEEL",
        "CHAIN SPROCKET",
        "SPROCKET WHEEL",
        "SPROCKETS",
    ],
    "de": ["Kettenrad", "KETTENRAD", "Rollenkettenrad", "Kettenritzel", "KETTENRÄDER", "Kettenraeder"],
    "fr": [
        "Pignon",
        "PIGNON A CHAINE",
        "Roue à chaîne",
        "Roue dentée",
        "PIGNON CHAINE",
        "Pignon pour chaîne",
    ],
    "es": ["Piñón", "PIÑON", "Rueda dentada", "Piñón para cadena", "RUEDA PARA CADENA", "Piñon de cadena"],
    "it": ["Pignone", "PIGNONE", "Corona", "Ruota dentata", "Pignone per catena", "RUOTA PER CATENA"],
}
TEETH = {
    "en": [
        "{}T",
        "{} T",
        "{} TEETH",
        "{} tooth",
        "Z={}",
        "{}TH",
        "{} Teeth",
        "TEETH {}",
        "{}-tooth",
        "T={}",
        "Z{}",
    ],
    "de": [
        "{}Z",
        "{} Zähne",
        "Z={}",
        "Z {}",
        "{} ZAEHNE",
        "Zähnezahl {}",
        "{} Zähnen",
        "z = {}",
        "{}-Zähne",
        "{} ZÄHNE",
    ],
    "fr": [
        "{} dents",
        "Z={}",
        "Z{}",
        "{}D DENTS",
        "{} DTS",
        "Z = {}",
        "{} Dents",
        "nombre de dents {}",
        "{}dents",
    ],
    "es": ["{} dientes", "Z={}", "Z{}", "{} DIENTES", "{}Z", "Z {}", "nº dientes {}", "{}dientes"],
    "it": ["{} denti", "Z={}", "Z{}", "{} DENTI", "z {}", "numero denti {}", "{}denti"],
}
TEETH["fr"].remove("{}D DENTS")
STRANDS = {
    "en": {
        1: ["SIMPLEX", "SGL", "SINGLE STRAND", "1-STRAND", "Simplex"],
        2: ["DUPLEX", "DPLX", "DOUBLE STRAND", "2 STRAND", "TWIN"],
        3: ["TRIPLEX", "TRIPLE STRAND", "3-STRAND", "TRPLX"],
    },
    "de": {
        1: ["einfach", "Simplex", "1-fach", "EINFACH", "einreihig"],
        2: ["zweifach", "Duplex", "2-fach", "ZWEIFACH", "zweireihig"],
        3: ["dreifach", "Triplex", "3-fach", "dreireihig"],
    },
    "fr": {
        1: ["simple", "SIMPLE", "simplex", "1 rang", "simple rangée"],
        2: ["double", "DUPLEX", "2 rangs", "double rangée"],
        3: ["triple", "TRIPLE", "3 rangs", "triplex"],
    },
    "es": {
        1: ["simple", "SIMPLE", "simplex", "una hilera", "sencillo"],
        2: ["doble", "DOBLE", "dúplex", "dos hileras", "2 hileras"],
        3: ["triple", "TRIPLE", "tríplex", "tres hileras"],
    },
    "it": {
        1: ["semplice", "SEMPLICE", "simplex", "una fila"],
        2: ["doppio", "doppia", "DUPLEX", "due file"],
        3: ["triplo", "tripla", "TRIPLEX", "tre file"],
    },
}
PLAIN = {
    "en": ["PILOT BORE", "PB", "PLAIN BORE", "REBORE", "ROUGH BORE", "STOCK BORE", "pilot bored"],
    "de": ["vorgebohrt", "VORGEBOHRT", "Vorbohrung", "vorgeb.", "Rohbohrung"],
    "fr": ["préalésé", "alésage brut", "ALESAGE BRUT", "avant-trou", "PREALESE"],
    "es": ["agujero previo", "taladro piloto", "AGUJERO PILOTO", "pretaladrado", "taladro previo"],
    "it": ["preforo", "foro grezzo", "FORO GREZZO", "preforato", "foro pilota"],
}
BORE = {
    "en": ["BORE {}", "{} BORE", "FIN BORE {}", "{} FB", "BORED {}", "BORE DIA {}", "BORED TO SIZE {}"],
    "de": [
        "Bohrung {}",
        "BOHRUNG {}",
        "Bohrung Ø{}",
        "Bohrg. {}",
        "Fertigbohrung {}",
        "fertig gebohrt {}",
        "Bohrung d={}",
    ],
    "fr": [
        "alésage {}",
        "ALESAGE {}",
        "alésage Ø{}",
        "alésé {}",
        "alés. {}",
        "alésage fini {}",
        "alésé à {}",
    ],
    "es": [
        "agujero {}",
        "taladro {}",
        "Ø agujero {}",
        "mandrinado {}",
        "AGUJERO Ø{}",
        "agujero acabado {}",
        "taladro Ø {}",
    ],
    "it": ["foro {}", "FORO {}", "foro Ø{}", "alesato {}", "foro finito {}", "foro d. {}", "Ø foro {}"],
}
KEY = {
    "en": ["KW {}", "{} KW", "KEYWAY {}", "{} KEYWAY", "KEY {}", "{} KWY", "W/ {} KW"],
    "de": [
        "Nut {}",
        "Passfedernut {}",
        "PFN {}",
        "NUT {}",
        "Nutbreite {}",
        "Keilnut {}",
        "mit Passfedernut {}",
    ],
    "fr": ["rainure {}", "rainure de clavette {}", "clavette {}", "RAINURE {}", "avec clavette {}"],
    "es": ["chavetero {}", "CHAVETERO {}", "chaveta {}", "ranura de chaveta {}", "con chavetero {}"],
    "it": ["cava {}", "chiavetta {}", "cava per linguetta {}", "CAVA {}", "linguetta {}", "con chiavetta {}"],
}
SCREWS = {
    "en": ["2SS", "2 SET SCREWS", "(2) SET SCR", "2 SETSCREWS", "2 SS", "2 GRUB SCREWS"],
    "de": ["2 Gewindestifte", "2x Gewindestift", "2 Madenschrauben"],
    "fr": ["2 vis de pression", "2 vis sans tête"],
    "es": ["2 prisioneros", "2 tornillos prisioneros"],
    "it": ["2 grani", "2 viti di fermo"],
}
HARD = {
    "en": ["HT", "HARDENED TEETH", "HARDENED", "HDN", "IND HARD", "induction hardened teeth"],
    "de": ["gehärtet", "Zähne gehärtet", "GEHAERTET", "geh.", "induktiv gehärtet", "gehärtete Zähne"],
    "fr": ["trempé", "dents trempées", "DENTS TREMPEES", "denture trempée", "trempé par induction"],
    "es": ["templado", "dientes templados", "TEMPLADO", "dientes endurecidos", "templado por inducción"],
    "it": ["temprato", "denti temprati", "TEMPRATO", "dentatura temprata", "temprato a induzione"],
}
MATERIAL = {
    "en": {
        "carbon_steel": ["STEEL", "STL", "C45", "1045", "EN8"],
        "stainless_steel": ["STAINLESS", "STAINLESS STEEL", "SS304", "SS316", "STAINLESS 316"],
        "cast_iron": ["CAST IRON", "C.I.", "CI"],
        "plastic": ["NYLON", "ACETAL", "UHMW", "POM"],
    },
    "de": {
        "carbon_steel": ["Stahl", "C45", "STAHL", "St52"],
        "stainless_steel": ["Edelstahl", "rostfrei", "V2A", "1.4301", "V4A", "1.4571"],
        "cast_iron": ["Grauguss", "GG25", "Guss"],
        "plastic": ["Kunststoff", "PA6", "POM", "Polyamid"],
    },
    "fr": {
        "carbon_steel": ["acier", "ACIER C45", "acier XC48"],
        "stainless_steel": ["inox", "INOX 304", "acier inox", "inox 316L"],
        "cast_iron": ["fonte", "FONTE", "fonte grise"],
        "plastic": ["plastique", "POM", "polyamide"],
    },
    "es": {
        "carbon_steel": ["acero", "ACERO C45", "acero F-114"],
        "stainless_steel": ["inoxidable", "acero inoxidable", "INOX 304", "acero inox 316"],
        "cast_iron": ["fundición", "FUNDICION", "hierro fundido"],
        "plastic": ["plástico", "nylon", "POM"],
    },
    "it": {
        "carbon_steel": ["acciaio", "ACCIAIO C45", "acciaio C43"],
        "stainless_steel": ["inox", "acciaio inox", "INOX 304", "acciaio inox AISI 316"],
        "cast_iron": ["ghisa", "GHISA", "ghisa G25"],
        "plastic": ["plastica", "nylon", "POM"],
    },
}
GRADES = {
    "C45": "C45",
    "1045": "1045",
    "EN8": "EN8",
    "304": "304",
    "316": "316",
    "316L": "316L",
    "V2A": "304",
    "V4A": "316",
    "1.4301": "304",
    "1.4571": "316Ti",
    "GG25": "GG25",
    "St52": "St 52",
    "NYLON": "nylon",
    "nylon": "nylon",
    "ACETAL": "acetal",
    "POM": "acetal",
    "UHMW": "UHMW",
    "PA6": "nylon",
    "Polyamid": "nylon",
    "polyamide": "nylon",
    "XC48": "C45",
    "F-114": "C45",
    "C43": "C43",
    "G25": "G25",
}
HUBS = {
    "en": {
        "A": ["TYPE A", "PLATE", "NO HUB", "A TYPE", "A-PLATE"],
        "B": ["TYPE B", "HUB ONE SIDE", "STYLE B", "B TYPE"],
        "C": ["TYPE C", "HUB BOTH SIDES", "DOUBLE HUB"],
    },
    "de": {
        "A": ["Form A", "ohne Nabe", "Kettenradscheibe", "Typ A"],
        "B": ["Form B", "einseitige Nabe", "Typ B", "Nabe einseitig"],
        "C": ["Form C", "beidseitige Nabe", "Nabe beidseitig"],
    },
    "fr": {
        "A": ["type A", "sans moyeu", "disque"],
        "B": ["type B", "moyeu d'un côté", "moyeu un côté"],
        "C": ["type C", "moyeu des deux côtés", "double moyeu"],
    },
    "es": {
        "A": ["tipo A", "sin cubo", "disco"],
        "B": ["tipo B", "cubo a un lado", "cubo un lado"],
        "C": ["tipo C", "cubo a ambos lados", "doble cubo"],
    },
    "it": {
        "A": ["tipo A", "senza mozzo", "disco"],
        "B": ["tipo B", "mozzo da un lato", "mozzo un lato"],
        "C": ["tipo C", "mozzo bilaterale", "mozzo da due lati"],
    },
}
HUBS["it"]["C"][2] = "doppio mozzo"
TAPER = {
    "en": [
        "TB {}",
        "TAPER BUSHED {}",
        "TAPER BUSH {}",
        "TB{}",
        "FOR TAPER BUSH {}",
        "T/B {}",
        "TAPER {}",
        "BUSH {} TAPER",
    ],
    "de": [
        "Taperbuchse {}",
        "für Taperbuchse {}",
        "Taper-Spannbuchse {}",
        "Spannbuchse {}",
        "TAPER {}",
        "Kegelbuchse {}",
    ],
    "fr": [
        "moyeu amovible {}",
        "bague conique {}",
        "pour moyeu amovible {}",
        "douille conique {}",
        "TAPER {}",
    ],
    "es": [
        "casquillo cónico {}",
        "para casquillo cónico {}",
        "buje cónico {}",
        "casquillo taper {}",
        "TAPER {}",
    ],
    "it": ["bussola conica {}", "per bussola conica {}", "BUSSOLA CONICA {}", "bussola taper {}", "TAPER {}"],
}
IDLER = {
    "en": ["IDLER BALL BRG", "IDLER W/ BALL BEARING", "IDLER BRG"],
    "de": ["Spannrad mit Kugellager", "Spannrad kugelgelagert", "Umlenkrad Kugellager"],
    "fr": ["tendeur à roulement", "tendeur sur roulement", "tendeur avec roulement"],
    "es": ["tensor con rodamiento", "tensor con rodamiento de bolas"],
    "it": ["tenditore con cuscinetto", "folle con cuscinetto a sfere"],
}
PLACES = {
    "en": ["CONVEYOR #3", "FEEDER 2", "LINE 4", "ELEVATOR NO 2", "DRYER 1 DRIVE", "HEAD SHAFT"],
    "de": ["Linie 4", "Förderer 2", "Elevator Nr. 3", "Trockner 1", "Antrieb"],
    "fr": ["convoyeur 3", "ligne 2", "élévateur n° 2", "entraînement"],
    "es": ["línea 4", "transportador 2", "elevador no 3", "accionamiento motriz"],
    "it": ["linea 4", "trasportatore 2", "elevatore n. 3", "lato comando"],
}
NOISE = ["QTY 2", "2 EA", "P/N 48213", "EUR 45.00", "1 PC", "DWG 10442", "100234"]
INCH = {"35": 1, "40": 1, "50": 1, "60": 1, "80": 1, "100": 1, "41": 1, "120": 1}
ISO = ["06B", "08B", "10B", "12B", "16B", "20B", "24B", "08A", "10A", "12A", "16A"]
PITCHES = {
    "35": 9.525,
    "40": 12.7,
    "41": 12.7,
    "50": 15.875,
    "60": 19.05,
    "80": 25.4,
    "100": 31.75,
    "120": 38.1,
    "06B": 9.525,
    "08B": 12.7,
    "10B": 15.875,
    "12B": 19.05,
    "16B": 25.4,
    "20B": 31.75,
    "24B": 38.1,
    "08A": 12.7,
    "10A": 15.875,
    "12A": 19.05,
    "16A": 25.4,
}
BY_WIDTH = {
    "06B": ['3/8" x 7/32"', "3/8 X 7/32", "9,525 x 5,72"],
    "12B": ['3/4" x 7/16"', "3/4X7/16", "19.05 x 11.68"],
    "16B": ['1" x 17,02', "1 x 17.02", "25.4 x 17.02 mm"],
    "08B": ["12.7 x 7.75", "12,7x7,75"],
    "10B": ["15.875 x 9.65"],
}
BUSHES = {"1008": 25, "1108": 28, "1210": 32, "1610": 42, "2012": 50, "2517": 60, "3020": 75}
BUSH_OD = {"1008": 36, "1108": 39, "1210": 48, "1610": 58, "2012": 70, "2517": 86, "3020": 108}
KEY_MM = [
    (10, 12, 4, 4),
    (12, 17, 5, 5),
    (17, 22, 6, 6),
    (22, 30, 8, 7),
    (30, 38, 10, 8),
    (38, 44, 12, 8),
    (44, 50, 14, 9),
    (50, 58, 16, 10),
    (58, 65, 18, 11),
]
KEY_IN = [
    (Fraction(7, 16), Fraction(9, 16), Fraction(1, 8)),
    (Fraction(9, 16), Fraction(7, 8), Fraction(3, 16)),
    (Fraction(7, 8), Fraction(5, 4), Fraction(1, 4)),
    (Fraction(5, 4), Fraction(11, 8), Fraction(5, 16)),
    (Fraction(11, 8), Fraction(7, 4), Fraction(3, 8)),
    (Fraction(7, 4), Fraction(9, 4), Fraction(1, 2)),
    (Fraction(9, 4), Fraction(11, 4), Fraction(5, 8)),
]


@dataclass
class RandomLine:
    text: str
    expected: dict[str, Any] = field(default_factory=dict)
    language: str = "en"


def inches(value: Fraction, dice: random.Random) -> str:
    whole, rest = divmod(value, 1)
    if not rest:
        return f'{whole}"'
    mark = dice.choice(["", '"', "''", " IN", '"'])
    if dice.random() < 0.12:
        return (
            f"{float(value):.4f}{dice.choice(['', ' IN', chr(34)])}"
            if len(f"{float(value):.4f}".rstrip("0").split(".")[1]) >= 3
            else f'{float(value):.3f}"'
        )
    if not whole:
        return f"{rest}{mark}"
    return f"{whole}{dice.choice(['-', ' ', '-', '.'])}{rest}{mark}"


def mm(value: float, dice: random.Random, language: str) -> str:
    text = f"{value:g}"
    if language != "en" and "." in text:
        text = text.replace(".", ",")
    return text + dice.choice(["MM", " MM", "mm", " mm", "MM", " H7", "H7", "mm H7"])


def slip(word: str, dice: random.Random) -> str:
    at = dice.randrange(1, len(word) - 1)
    kind = dice.randrange(4)
    if kind == 0:
        return word[:at] + word[at + 1 :]
    if kind == 1:
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    if kind == 2:
        return word[:at] + word[at] + word[at:]
    letters = "abcdefghijklmnopqrstuvwxyz"
    letter = dice.choice(letters)
    return word[:at] + (letter.upper() if word[at].isupper() else letter) + word[at + 1 :]


def with_slips(text: str, dice: random.Random) -> str:
    words = text.split(" ")
    long = [index for index, word in enumerate(words) if word.isalpha() and len(word) >= 6]
    if long and dice.random() < 0.25:
        index = dice.choice(long)
        words[index] = slip(words[index], dice)
    return " ".join(words)


def without_accents(text: str, dice: random.Random) -> str:
    pairs = {
        "ä": "ae",
        "ö": "oe",
        "ü": "ue",
        "é": "e",
        "è": "e",
        "à": "a",
        "â": "a",
        "î": "i",
        "ê": "e",
        "ó": "o",
        "ñ": "n",
        "í": "i",
        "á": "a",
        "ú": "u",
        "ô": "o",
        "Ä": "AE",
        "Ö": "OE",
        "Ü": "UE",
        "Ñ": "N",
    }
    return "".join(pairs.get(letter, letter) for letter in text) if dice.random() < 0.4 else text


def root_mm(chain: str, teeth: int) -> float:
    pitch = PITCHES[chain]
    return pitch * teeth / 3.1416 - 0.9 * pitch


def random_line(dice: random.Random, language: str) -> RandomLine:
    is_inch = dice.random() < (0.55 if language == "en" else 0.15)
    chain = dice.choice(list(INCH)) if is_inch else dice.choice(ISO)
    teeth = dice.choice([*range(11, 30), *range(30, 77, 3), 95, 114])
    strands = dice.choices([1, 2, 3], [7, 2, 1])[0] if chain != "41" else 1
    line = RandomLine("", {"chain": chain, "teeth": teeth, "strands": strands}, language)
    parts: list[str] = []
    uses_code = is_inch and language == "en" and dice.random() < 0.55
    if uses_code:
        head = [_inch_code(line, dice)]
    else:
        head = [_chain_words(line, dice, is_inch=is_inch), dice.choice(TEETH[language]).format(teeth)]
    _mounting(line, parts, dice, is_inch=is_inch, has_hub="hub_style" in line.expected)
    _extras(line, parts, dice)
    noun = dice.choice(NOUNS[language])
    dice.shuffle(parts)
    tail = [*parts]
    if dice.random() < 0.2:
        tail.insert(dice.randrange(len(tail) + 1), dice.choice(PLACES[language]))
    if dice.random() < 0.15:
        tail.append(dice.choice(NOISE))
    body = [*head, *tail]
    if uses_code and set(body[1:]) <= {"HT"}:
        # A catalogue code that stands alone is the stock part, bored for machining only.
        line.expected["bore_type"] = "plain"
    if dice.random() < 0.25 and not uses_code:
        dice.shuffle(body)
    separator = dice.choice([" ", " ", " ", ", ", "; "])
    text = (noun + separator if noun else "") + separator.join(body)
    text = without_accents(with_slips(text, dice), dice)
    if dice.random() < 0.4:
        text = text.upper()
    line.text = text
    return line


def _inch_code(line: RandomLine, dice: random.Random) -> str:
    expected = line.expected
    prefix = {1: "", 2: "D", 3: "E"}[expected["strands"]]
    hub = dice.choice("ABBBC")
    expected["hub_style"] = hub
    hard = ""
    if dice.random() < 0.2:
        hard = dice.choice(["H", "HT"])
        expected["hardened_teeth"] = True
    return f"{prefix}{expected['chain']}{hub}{expected['teeth']}{hard}"


def _chain_words(line: RandomLine, dice: random.Random, *, is_inch: bool) -> str:
    chain, strands = line.expected["chain"], line.expected["strands"]
    word = dice.choice(STRANDS[line.language][strands])
    if is_inch:
        if strands > 1 or dice.random() < 0.4:
            return dice.choice(
                [f"{chain}-{strands}", f"#{chain}-{strands}", f"ANSI {chain}-{strands}", f"#{chain} {word}"]
            )
        return dice.choice(
            [
                f"#{chain}",
                f"ANSI {chain}",
                f"ASA{chain}",
                f"NO. {chain}" if line.language == "en" else f"#{chain}",
            ]
        )
    if chain in BY_WIDTH and dice.random() < 0.25:
        return f"{dice.choice(BY_WIDTH[chain])} {word}"
    return dice.choice(
        [
            f"{chain}-{strands}",
            f"{chain}{strands}",
            f"{chain} - {strands}",
            f"{chain} {word}",
            f"{word} {chain}",
            f"{chain.lower()}-{strands}",
            f"{chain}-{strands}",
            f"ISO {chain}-{strands}",
        ]
    )


def _mounting(
    line: RandomLine, parts: list[str], dice: random.Random, *, is_inch: bool, has_hub: bool
) -> None:
    expected, language = line.expected, line.language
    room = root_mm(expected["chain"], expected["teeth"])
    kind = dice.choices(["plain", "finished", "tapered", "bearing", "nothing"], [3, 5, 3, 1, 1])[0]
    bushes = [size for size, least in BUSH_OD.items() if least * 1.1 < room]
    if kind == "tapered" and not bushes:
        kind = "plain"
    if kind == "plain":
        parts.append(dice.choice(PLAIN[language]))
        expected["bore_type"] = "plain"
    elif kind == "tapered":
        size = dice.choice(bushes)
        parts.append(dice.choice(TAPER[language]).format(size))
        expected |= {"bore_type": "tapered", "bush_size": size}
    elif kind == "bearing":
        parts.append(dice.choice(IDLER[language]))
        expected |= {"bore_type": "bearing", "role_kind": "idler"}
    elif kind == "finished" and room > 16:
        _finished(line, parts, dice, room, is_inch=is_inch)
    if not has_hub and dice.random() < 0.3:
        style = dice.choice("ABC")
        parts.append(dice.choice(HUBS[language][style]))
        expected["hub_style"] = style


def _finished(line: RandomLine, parts: list[str], dice: random.Random, room: float, *, is_inch: bool) -> None:
    expected, language = line.expected, line.language
    most = min(room * 0.65, 64)
    if is_inch and most / 25.4 > 0.7 and dice.random() < 0.8:
        bore = Fraction(dice.randrange(8, int(most / 25.4 * 16) + 1), 16)
        if abs(float(bore * MM) - PITCHES[expected["chain"]]) < 0.1 or (bore.denominator == 1 and bore > 2):
            bore += Fraction(1, 16)
        expected["bore_mm"] = float(bore * MM)
        parts.append(dice.choice(BORE[language]).format(inches(bore, dice)))
        width = next((key for low, high, key in KEY_IN if low < bore <= high), None)
        if width is not None and dice.random() < 0.6:
            expected["keyway_width_mm"] = float(width * MM)
            expected["keyway"] = True
            parts.append(dice.choice(KEY[language]).format(str(width) + dice.choice(["", '"'])))
    else:
        bore_mm = dice.choice(
            [
                one
                for one in (
                    12,
                    14,
                    15,
                    16,
                    18,
                    19,
                    20,
                    22,
                    24,
                    25,
                    28,
                    30,
                    32,
                    35,
                    38,
                    40,
                    42,
                    45,
                    48,
                    50,
                    55,
                    60,
                )
                if one <= max(most, 12)
            ]
        )
        if abs(bore_mm - PITCHES[expected["chain"]]) < 0.1:
            bore_mm += 2
        expected["bore_mm"] = float(bore_mm)
        parts.append(dice.choice(BORE[language]).format(mm(bore_mm, dice, language)))
        key = next((row for row in KEY_MM if row[0] < bore_mm <= row[1]), None)
        if key is not None and dice.random() < 0.6:
            expected["keyway_width_mm"] = float(key[2])
            expected["keyway"] = True
            shown = dice.choice(
                [
                    f"{key[2]}",
                    f"{key[2]} MM",
                    f"{key[2]}X{key[3]}",
                    f"{key[2]} x {key[3]}",
                    f"{key[2]} P9",
                    f"{key[2]}mm",
                    f"{key[2]} JS9",
                ]
            )
            if "X" in shown.upper():
                expected["key_height_mm"] = float(key[3])
            parts.append(dice.choice(KEY[language]).format(shown))
    expected["bore_type"] = "finished"
    if dice.random() < 0.25:
        parts.append(dice.choice(SCREWS[language]))
        expected |= {"set_screws": 2, "set_screw": True}


def _extras(line: RandomLine, parts: list[str], dice: random.Random) -> None:
    expected, language = line.expected, line.language
    if "hardened_teeth" not in expected and dice.random() < 0.25:
        parts.append(dice.choice(HARD[language]))
        expected["hardened_teeth"] = True
    if dice.random() < 0.35:
        material = dice.choice(list(MATERIAL[language]))
        words = dice.choice(MATERIAL[language][material])
        parts.append(words)
        expected["material"] = material
        for token in words.replace("SS", "SS ").split():
            if token in GRADES:
                expected["material_grade"] = GRADES[token]
