"""The columns of a harvest file: one line a weighing, or one for several beside each other.

`total` is what such a line says of its weighings together; elsewhere it is left out.

The words are those of farming in general, in English, Spanish and Portuguese; accents, case and
punctuation do not matter. Words that mean different things to different growers ("linha", "lote",
"ton") are left out on purpose: a heading that is not used shows in the report, one misread does
not.
"""

from records.importing.columns import Column, FileKind, Kind

MAX_CONTAINERS = 10_000
MAX_FRUIT = 100_000
MAX_PLACE = 10_000
MAX_MINUTES = 1_440 * 50  # fifty people for a day

HARVEST = FileKind(
    required=(("picked_on",), ("block",), ("weight", "gross", "net", "containers", "fruit_count")),
    exclusive=(("weight", "gross"),),
    noun="weighing",
    needed={"picked_on": "picking date", "block": "block"},
    carried=("picked_on", "block"),
    amounts=("weight", "gross", "net", "containers", "fruit_count"),
    added_up=("weight", "gross", "net", "tare", "containers", "fruit_count", "minutes"),
    spread=("grade", "block", "picked_on"),
    once=("minutes",),
    columns=(
        Column(
            name="picked_on",
            kind=Kind.DATE,
            synonyms=(
                *("date", "day", "picked on", "date picked", "pick date", "picking date"),
                *("harvest date", "date of harvest", "harvested on", "date harvested"),
                *("fecha", "fecha de cosecha", "fecha cosecha", "fecha de recolección"),
                *("fecha de corte", "día", "fecha de pesada"),
                *("data", "data de colheita", "data da colheita", "data colheita"),
                *("data de apanha", "data da apanha", "data de pesagem", "data da pesagem"),
            ),
        ),
        Column(
            name="block",
            kind=Kind.TEXT,
            max_chars=120,
            synonyms=(
                *("block", "block code", "block name", "plot", "paddock", "field"),
                *("growing area", "orchard block"),
                *("bloque", "parcela", "cuartel", "sector", "código de parcela"),
                *("talhão", "bloco", "quadra", "gleba", "setor", "código da parcela"),
            ),
        ),
        Column(
            name="tree",
            kind=Kind.TEXT,
            max_chars=30,
            synonyms=(
                *("tree", "tree number", "tree label", "tree id", "plant", "plant number"),
                *("árbol", "número de árbol", "etiqueta de árbol", "planta", "número de planta"),
                *("árvore", "número da árvore", "etiqueta da árvore", "número da planta"),
            ),
        ),
        Column(
            name="row",
            kind=Kind.COUNT,
            smallest=1,
            largest=MAX_PLACE,
            synonyms=(
                *("row", "tree row", "row number"),
                *("fila", "hilera", "número de fila"),
                *("fileira", "linha de plantação", "linha de plantio", "número da fila"),
            ),
        ),
        Column(
            name="position",
            kind=Kind.COUNT,
            smallest=1,
            largest=MAX_PLACE,
            synonyms=(
                *("position", "tree position", "position in row", "place in row"),
                *("posición", "posición en la fila", "posição", "posição na fila"),
            ),
        ),
        Column(
            name="cultivar",
            kind=Kind.TEXT,
            max_chars=80,
            synonyms=("cultivar", "variety", "variedad", "variedade"),
        ),
        Column(
            name="grade",
            kind=Kind.TEXT,
            max_chars=80,
            synonyms=(
                *("grade", "class", "quality", "quality class", "category"),
                *("calidad", "categoría", "clase", "calibre"),
                *("qualidade", "categoria", "classe"),
            ),
        ),
        Column(
            name="crop",
            kind=Kind.TEXT,
            max_chars=40,
            synonyms=("crop", "crop name", "ciclo"),
        ),
        Column(
            name="weight",
            kind=Kind.WEIGHT,
            synonyms=(
                *("weight", "weight picked", "picked weight", "harvest weight"),
                *("peso", "peso cosechado", "peso recolectado"),
                *("peso colhido", "peso apanhado"),
            ),
            synonyms_with_unit=(
                *("harvest", "harvested", "picked", "yield", "fruit", "quantity", "amount"),
                *(
                    "cosecha",
                    "cosechados",
                    "recolectados",
                    "fruta",
                    "frutos",
                    "producción",
                    "rendimiento",
                ),
                *("colheita", "colhidos", "apanhados", "produção", "rendimento"),
                *("cantidad", "quantidade"),
            ),
        ),
        Column(
            name="unit",
            kind=Kind.UNIT,
            synonyms=(
                *("unit", "weight unit", "unit of weight", "unit of measure"),
                *("unidad", "unidad de peso", "unidad de medida"),
                *("unidade", "unidade de peso", "unidade de medida"),
            ),
        ),
        Column(
            name="gross",
            kind=Kind.WEIGHT,
            synonyms=("gross", "gross weight", "bruto", "peso bruto"),
            synonyms_with_unit=("brutos", "brutas"),
        ),
        Column(
            name="tare",
            kind=Kind.WEIGHT,
            synonyms=(
                *("tare", "tare weight", "total tare"),
                *("tara", "tara total", "peso de tara", "peso da tara"),
            ),
        ),
        Column(
            name="net",
            kind=Kind.WEIGHT,
            synonyms=(
                *("net", "net weight", "nett", "nett weight"),
                *("neto", "peso neto", "líquido", "peso líquido"),
            ),
            synonyms_with_unit=("netos", "netas", "líquidos", "líquidas"),
        ),
        Column(
            name="total",
            kind=Kind.WEIGHT,
            synonyms=(
                *("total", "total weight", "row total", "sum"),
                *("peso total", "suma", "soma", "total general", "total geral"),
            ),
            synonyms_with_unit=("totales", "totais"),
        ),
        Column(
            name="containers",
            kind=Kind.COUNT,
            largest=MAX_CONTAINERS,
            synonyms=(
                *("containers", "crates", "boxes", "bins", "trays", "buckets"),
                *("number of containers", "number of crates", "number of boxes"),
                *("number of bins", "number of trays", "number of buckets"),
                *("cajas", "envases", "cajones", "canastas", "bandejas", "cubos"),
                *("número de cajas", "número de envases"),
                *("caixas", "embalagens", "cestos", "tabuleiros", "baldes"),
                *("número de caixas", "número de embalagens"),
            ),
        ),
        Column(
            name="container",
            kind=Kind.TEXT,
            max_chars=80,
            synonyms=(
                *("container", "container type", "type of container", "crate", "crate type"),
                *("box", "box type", "bin", "bin type"),
                *("envase", "tipo de envase", "caja", "tipo de caja", "recipiente"),
                *("tipo de recipiente", "caixa", "tipo de caixa", "embalagem"),
                *("tipo de embalagem",),
            ),
        ),
        Column(
            name="fruit_count",
            kind=Kind.COUNT,
            largest=MAX_FRUIT,
            synonyms=(
                *("fruit count", "fruit", "fruits", "number of fruit", "number of fruits"),
                *("pieces", "number of pieces"),
                *("frutos", "frutas", "número de frutos", "número de frutas", "piezas"),
                *("peças", "número de peças"),
            ),
        ),
        Column(
            name="docket",
            kind=Kind.TEXT,
            max_chars=40,
            synonyms=(
                *("docket", "docket number", "delivery note", "delivery docket"),
                *("albarán", "número de albarán", "guía", "guía de remisión", "remito"),
                *("nota de entrega", "número de guía"),
                *("guia de remessa", "guia de transporte", "romaneio"),
            ),
        ),
        Column(
            name="ticket",
            kind=Kind.TEXT,
            max_chars=40,
            synonyms=(
                *("ticket", "ticket number", "scale ticket", "weigh ticket"),
                *("boleta", "número de boleta", "boleta de pesada"),
                *("talão", "número do talão", "talão de pesagem"),
            ),
        ),
        Column(
            name="line",
            kind=Kind.TEXT,
            max_chars=40,
            synonyms=("line", "line number", "número de línea", "número da linha"),
        ),
        Column(
            name="pickers",
            kind=Kind.PEOPLE,
            max_chars=80,
            synonyms=(
                *("pickers", "picker", "picked by", "harvester", "harvesters", "harvested by"),
                *("cosechador", "cosechadores", "recolector", "recolectores"),
                *("cosechado por", "recolectado por"),
                *("apanhador", "apanhadores", "colhedor", "colhedores"),
                *("apanhado por", "colhido por"),
            ),
        ),
        Column(
            name="minutes",
            kind=Kind.COUNT,
            largest=MAX_MINUTES,
            synonyms=(
                *("minutes", "min", "mins", "picking minutes"),
                *("minutos", "minutos de cosecha", "minutos de colheita", "minutos de apanha"),
            ),
        ),
        Column(
            name="note",
            kind=Kind.TEXT,
            max_chars=500,
            synonyms=(
                *("note", "notes", "remark", "remarks", "comment", "comments", "observations"),
                *("nota", "notas", "observación", "observaciones", "comentario", "comentarios"),
                *("observação", "observações", "obs", "comentário", "comentários"),
            ),
        ),
        Column(
            name="farm",
            kind=Kind.TEXT,
            max_chars=120,
            synonyms=(
                *("farm", "farm code", "farm name"),
                *("finca", "explotación", "granja"),
                *("quinta", "fazenda", "exploração", "propriedade"),
            ),
        ),
    ),
)
