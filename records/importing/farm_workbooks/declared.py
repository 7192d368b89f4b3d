"""The sheets of a farm workbook and their columns, in the words of English, Spanish, Portuguese."""

from collections.abc import Mapping
from dataclasses import dataclass

from records.importing.columns import Column, FileKind, Kind

YES_NO = {"yes": "y,true,1,si,sí,sim,x", "no": "n,false,0,não,nao"}
MONTHS = {str(number): str(number) for number in range(1, 13)}
DATE_ORDERS = ("day-month-year", "month-day-year", "year-month-day")
UNITS = ("g", "kg", "t", "oz", "lb")


@dataclass(frozen=True, kw_only=True)
class SheetKind:
    """A sheet: its name, other names for it, its columns, and what the template says of both."""

    name: str
    synonyms: tuple[str, ...]
    columns: FileKind
    about: str
    notes: Mapping[str, str]


def _text(name: str, *synonyms: str, max_chars: int) -> Column:
    return Column(name=name, kind=Kind.TEXT, synonyms=synonyms, max_chars=max_chars)


def _count(name: str, *synonyms: str, smallest: int = 0, largest: int) -> Column:
    return Column(name=name, kind=Kind.COUNT, synonyms=synonyms, smallest=smallest, largest=largest)


def _number(name: str, *synonyms: str, smallest: int, largest: int) -> Column:
    return Column(
        name=name, kind=Kind.NUMBER, synonyms=synonyms, smallest=smallest, largest=largest
    )


def _choice(name: str, *synonyms: str, choices: Mapping[str, str]) -> Column:
    return Column(name=name, kind=Kind.CHOICE, synonyms=synonyms, choices=choices)


def _date(name: str, *synonyms: str) -> Column:
    return Column(name=name, kind=Kind.DATE, synonyms=synonyms, may_be_future=True)


FARM = _text("farm", "farm code", "finca", "granja", "quinta", "fazenda", max_chars=20)
CO_OP = _text("co-op", "co op code", "cooperative", "cooperativa", max_chars=20)
BLOCK = _text("block", "block code", "parcela", "talhão", max_chars=20)
CULTIVAR = _text("cultivar", "variety", "variedad", "variedade", max_chars=80)
ROOTSTOCK = _text("rootstock", "patrón", "portainjerto", "porta-enxerto", max_chars=80)
AREA_M2 = _count("area m2", "área m2", "superficie m2", smallest=1, largest=100_000_000)
AREA_HA = _number("area ha", "área ha", "superficie ha", smallest=0, largest=10_000)
NON_BEARING = _choice(
    "non-bearing", "not bearing", "sin producción", "sem produção", choices=YES_NO
)
PLACE_CODE = ("code", "código")
FARM_NOTE = "The farm's code. May be left blank where the sheet farms has one farm only."

SHEETS: tuple[SheetKind, ...] = (
    SheetKind(
        name="farms",
        synonyms=("farm", "fincas", "granjas", "quintas", "fazendas"),
        about="One line a farm. Where the code is known already, filled cells change the farm.",
        columns=FileKind(
            required=(("code",),),
            columns=(
                _text("code", "farm code", "farm", "código", max_chars=20),
                _text("name", "farm name", "nombre", "nome", max_chars=120),
                _text("time zone", "zona horaria", "fuso horário", max_chars=64),
                _number("latitude", "latitud", "lat", smallest=-90, largest=90),
                _number("longitude", "longitud", "lon", "long", smallest=-180, largest=180),
                _choice("season start month", "season start", "mes de inicio", choices=MONTHS),
                _choice(
                    "decimal mark",
                    "marca decimal",
                    choices={"point": "punto,ponto", "comma": "coma,vírgula"},
                ),
                _choice("date order", choices={each: each for each in DATE_ORDERS}),
                _choice("weight unit", "unidad", "unidade", choices={each: each for each in UNITS}),
            ),
        ),
        notes={
            "code": "Needed. Short, and the farm's alone.",
            "name": "Needed for a new farm.",
            "time zone": "Needed for a new farm, by its IANA name, such as Atlantic/Madeira.",
            "latitude": "Degrees, south negative; together with the longitude.",
            "longitude": "Degrees, west negative.",
            "season start month": "1 to 12.",
            "decimal mark": "How the farm's files write decimals: point or comma.",
            "date order": "How its files write dates.",
            "weight unit": "What its files weigh in.",
        },
    ),
    SheetKind(
        name="memberships",
        synonyms=("membership", "membresías", "socios", "associações", "membros"),
        about="A farm's time in a co-op. Staff who add a farm name their own co-op here.",
        columns=FileKind(
            required=(("co-op",), ("starts on",)),
            columns=(
                FARM,
                CO_OP,
                _date("starts on", "start", "from", "desde", "início", "inicio"),
                _date("ends on", "end", "until", "hasta", "fim", "fin", "até"),
                _choice(
                    "shares",
                    "comparte",
                    "partilha",
                    choices={"harvest": "cosecha,colheita", "all": "todo,tudo"},
                ),
                _choice("staff may edit", choices=YES_NO),
                _choice("associate", "is associate", "asociado", "associado", choices=YES_NO),
            ),
        ),
        notes={
            "farm": FARM_NOTE,
            "co-op": "Needed: the co-op's code.",
            "starts on": "Needed: the first day.",
            "ends on": "The last day, if it has ended.",
            "shares": "harvest: harvest data only. all: all records.",
            "staff may edit": "yes or no: whether the co-op's staff may correct harvest data.",
            "associate": "yes or no.",
        },
    ),
    SheetKind(
        name="cultivars",
        synonyms=("cultivar", "variedades", "cultivares"),
        about="Cultivars that are not known yet.",
        columns=FileKind(
            required=(("name",), ("species",)),
            columns=(
                FARM,
                _text("name", "cultivar", "nombre", "nome", max_chars=80),
                _text("species", "especie", "espécie", max_chars=120),
                _count("bearing age", "bearing age years", largest=50),
            ),
        ),
        notes={
            "farm": "Whose cultivar it is. Blank: shared by all, which platform admins alone add.",
            "name": "Needed.",
            "species": "Needed: code, common or scientific name.",
            "bearing age": "Full years from planting, where it differs from the species.",
        },
    ),
    SheetKind(
        name="blocks",
        synonyms=("block", "parcelas", "talhões", "talhoes"),
        about="One line a block.",
        columns=FileKind(
            required=(("code",),),
            columns=(
                FARM,
                _text("code", "block code", "block", "código", "parcela", "talhão", max_chars=20),
                _text("name", "block name", "nombre", "nome", max_chars=120),
                AREA_M2,
                AREA_HA,
            ),
        ),
        notes={
            "farm": FARM_NOTE,
            "code": "Needed. The farm's alone.",
            "area m2": "Square metres; or else in hectares.",
            "area ha": "Hectares.",
        },
    ),
    SheetKind(
        name="planting lines",
        synonyms=("planting line", "plantings", "plantaciones", "plantações"),
        about="Trees of a block that are counted, not listed one by one on the sheet trees.",
        columns=FileKind(
            required=(("block",), ("cultivar",), ("trees",)),
            columns=(
                FARM,
                BLOCK,
                CULTIVAR,
                ROOTSTOCK,
                _count("planted year", "year", "año", "ano", smallest=1850, largest=2200),
                _count(
                    "trees", "number of trees", "árboles", "árvores", smallest=1, largest=1_000_000
                ),
                AREA_M2,
                NON_BEARING,
            ),
        ),
        notes={
            "farm": FARM_NOTE,
            "block": "Needed: the block's code.",
            "cultivar": "Needed: its name.",
            "trees": "Needed: how many.",
            "area m2": "Where known.",
            "non-bearing": "yes or no.",
        },
    ),
    SheetKind(
        name="trees",
        synonyms=("tree", "árboles", "árvores"),
        about="By row and position. One line may plant a whole block: rows 1-6, positions 1-25.",
        columns=FileKind(
            required=(("block",), ("rows",), ("positions",)),
            columns=(
                FARM,
                BLOCK,
                _text(
                    "rows",
                    "row",
                    "fila",
                    "filas",
                    "hilera",
                    "hileras",
                    "fileira",
                    "fileiras",
                    max_chars=500,
                ),
                _text(
                    "positions",
                    "position",
                    "posición",
                    "posiciones",
                    "posição",
                    "posições",
                    max_chars=500,
                ),
                _text("number", "tree number", "label", "etiqueta", max_chars=30),
                CULTIVAR,
                ROOTSTOCK,
                _date(
                    "planted on", "planted", "plantado", "fecha de plantación", "data de plantação"
                ),
                NON_BEARING,
            ),
        ),
        notes={
            "farm": FARM_NOTE,
            "block": "Needed: the block's code.",
            "rows": "Needed: a number or ranges, such as 1-6, 8. Format the cells as text.",
            "positions": "Needed: a number or ranges, such as 1-25.",
            "number": "What is on the tree's label; for a line of one tree.",
            "cultivar": "Its name.",
            "planted on": "A date.",
            "non-bearing": "yes or no.",
        },
    ),
    SheetKind(
        name="people",
        synonyms=("person", "personas", "pessoas"),
        about="Each gets an invitation, and chooses a password when joining.",
        columns=FileKind(
            required=(("e-mail",),),
            columns=(
                _text("name", "nombre", "nome", max_chars=120),
                _text("e-mail", "email", "mail", "correo", "correo electrónico", max_chars=254),
                FARM,
                CO_OP,
                _choice(
                    "role",
                    "rol",
                    "papel",
                    "função",
                    choices={
                        "owner": "propietario,dueño,proprietário,dono",
                        "manager": "gerente,encargado,encarregado",
                        "worker": "field worker,trabajador,trabalhador",
                        "adviser": "advisor,asesor,assessor",
                        "staff": "co-op staff,personal,pessoal",
                    },
                ),
            ),
        ),
        notes={
            "e-mail": "Needed.",
            "farm": FARM_NOTE,
            "co-op": "Instead of a farm, for the co-op's staff.",
            "role": "owner, manager, worker or adviser on a farm; staff in a co-op.",
        },
    ),
)
