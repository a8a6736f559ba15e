//! What sheets, cut files and plaques say that is not the piece's own, once for each language.
//!
//! The guide's words are a struct of their own ([`super::Words`]); file names and layers are for machines and stay as they are.

/// The words of sheets in one language. `{}` stands for what is filled in.
#[allow(missing_docs, reason = "the English words say what each is")]
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SheetWords {
    // Bars and printing; `{}` is a bar's length.
    pub measure_me: &'static str,
    pub print_true: &'static str,
    pub corrected: &'static str,
    pub page_of: &'static str,

    // What the documents are; the first also stand in their properties.
    pub template: &'static str,
    pub tiled_template: &'static str,
    pub board_art: &'static str,
    pub plaque: &'static str,
    pub caption_strips: &'static str,
    pub stand_ins: &'static str,
    pub glue_sheet: &'static str,
    pub supports: &'static str,
    pub cuts: &'static str,
    pub outlines: &'static str,
    pub light_table: &'static str,
    pub true_to_scale: &'static str,

    // The template.
    pub template_page: &'static str,
    pub edges: &'static str,
    pub template_scale: &'static str,
    pub frame_size: &'static str,
    pub glue_here: &'static str,
    pub glue_here_short: &'static str,
    pub cut_to_here: &'static str,
    pub cut_to_here_short: &'static str,
    pub start_here: &'static str,
    pub join_one: &'static str,
    pub join_two: &'static str,
    pub piece: &'static str,
    pub device: &'static str,
    pub glazing_size: &'static str,
    pub board: &'static str,
    pub scale: &'static str,
    pub sheet: &'static str,
    pub one_of_one: &'static str,
    pub not_named: &'static str,

    // Glue sheet.
    pub glue_what_to_do: &'static str,
    pub on_its_support: &'static str,
    pub support_to_board: &'static str,
    pub between_layers: &'static str,
    pub bead: &'static str,
    pub one_dot: &'static str,
    pub dots: &'static str,
    pub one_tape: &'static str,
    pub tapes: &'static str,
    pub thin_coat: &'static str,
    pub bond_line: &'static str,
    pub lay_in: &'static str,

    // Supports.
    pub supports_what_to_do: &'static str,
    pub cut_one: &'static str,
    pub cut_several: &'static str,
    pub layer: &'static str,

    // Caption strips and stand-ins.
    pub strips_what_to_do: &'static str,
    pub stand_ins_what_to_do: &'static str,
    pub printed_face: &'static str,
    pub inert_outline: &'static str,
    pub card: &'static str,
    pub thickness: &'static str,

    // Names of lines in cut files.
    pub edge_of_board: &'static str,
    pub window_of_frame: &'static str,
}

/// English words of sheets.
pub(super) const ENGLISH: SheetWords = SheetWords {
    measure_me: "{}: measure me",
    print_true: "Print at 100\u{a0}%. Both bars must measure {}.",
    corrected: "Corrected for bars that measured {} across and {} up: on this printer they now measure {}.",
    page_of: "page {} of {}",

    template: "template",
    tiled_template: "tiled template",
    board_art: "board art",
    plaque: "plaque",
    caption_strips: "caption strips",
    stand_ins: "stand-ins",
    glue_sheet: "glue sheet",
    supports: "supports",
    cuts: "cuts",
    outlines: "outlines",
    light_table: "on the light table",
    true_to_scale: "{} at 1:1, made by Setapart",

    template_page: "{}, template page {}",
    edges: "Outer line: edge of the board, trim here. Inner line: window of the frame.",
    template_scale: "Template, scale 1:1",
    frame_size: "Frame {}",
    glue_here: "glue: page {} lies on this strip",
    glue_here_short: "glue: page {}",
    cut_to_here: "cut off up to this line",
    cut_to_here_short: "cut off",
    start_here: "Start with this page. Lay the others over its grey strips, in the order of their codes.",
    join_one: "Cut along the dashed line. Lay this page on the grey strip of {} so that the crossed circles close, \
        and glue.",
    join_two: "Cut along the dashed lines. Lay this page on the grey strips of {} and {} so that the crossed circles \
        close, and glue.",
    piece: "Piece",
    device: "Device",
    glazing_size: "Frame, glazing size",
    board: "Board",
    scale: "Scale",
    sheet: "Sheet",
    one_of_one: "1 of 1",
    not_named: "not named",

    glue_what_to_do: "Each joint at 1:1, in the order of the round numbers, seen from the front as the part lies. \
        Beads are drawn as wide as they spread when the part is pressed; numbers say where to begin.",
    on_its_support: "on its support",
    support_to_board: "support to board",
    between_layers: "between the support’s layers",
    bead: "bead {}",
    one_dot: "1 dot {}",
    dots: "{} dots {}",
    one_tape: "1 piece",
    tapes: "{} pieces",
    thin_coat: "even thin coat",
    bond_line: "bond line {}",
    lay_in: "lay in {} of {}",

    supports_what_to_do: "Patterns at 1:1, seen from the front. Cut as many layers as stand below each, in that \
        thickness.",
    cut_one: "cut 1 of {}",
    cut_several: "cut {}: {}",
    layer: "layer {}",

    strips_what_to_do: "Cut along the lines. Each strip has its caption’s place in the template.",
    stand_ins_what_to_do: "Print on card and cut along the lines. Each has its part’s true size and place.",
    printed_face: "printed face",
    inert_outline: "outline of the inert copy",
    card: "card",
    thickness: "thickness {}",

    edge_of_board: "Edge of the board",
    window_of_frame: "Window of the frame",
};

/// German words of sheets.
pub(super) const GERMAN: SheetWords = SheetWords {
    measure_me: "{}: nachmessen",
    print_true: "Mit 100\u{a0}% drucken. Beide Balken müssen {} messen.",
    corrected: "Korrigiert für Balken, die waagerecht {} und senkrecht {} maßen: auf diesem Drucker messen sie jetzt \
        {}.",
    page_of: "Seite {} von {}",

    template: "Schablone",
    tiled_template: "Schablone in Seiten",
    board_art: "Grafik der Trägerplatte",
    plaque: "Schild",
    caption_strips: "Beschriftungsstreifen",
    stand_ins: "Platzhalter",
    glue_sheet: "Klebebogen",
    supports: "Unterlagen",
    cuts: "Schnitte",
    outlines: "Umrisse",
    light_table: "auf dem Leuchttisch",
    true_to_scale: "{} 1:1, erstellt mit Setapart",

    template_page: "{}, Schablone, Seite {}",
    edges: "Äußere Linie: Kante der Trägerplatte, hier beschneiden. Innere Linie: sichtbarer Ausschnitt.",
    template_scale: "Schablone, Maßstab 1:1",
    frame_size: "Rahmen {}",
    glue_here: "kleben: auf diesem Streifen liegt Seite {}",
    glue_here_short: "kleben: Seite {}",
    cut_to_here: "bis zu dieser Linie abschneiden",
    cut_to_here_short: "abschneiden",
    start_here: "Mit dieser Seite beginnen. Die anderen in der Reihenfolge ihrer Kürzel auf ihre grauen Streifen \
        legen.",
    join_one: "An der Strichlinie abschneiden. Die Seite so auf den grauen Streifen von {} legen, dass sich die \
        Kreise mit Kreuz schließen, und kleben.",
    join_two: "An den Strichlinien abschneiden. Die Seite so auf die grauen Streifen von {} und {} legen, dass sich \
        die Kreise mit Kreuz schließen, und kleben.",
    piece: "Stück",
    device: "Gerät",
    glazing_size: "Rahmen, Glasmaß",
    board: "Trägerplatte",
    scale: "Maßstab",
    sheet: "Blatt",
    one_of_one: "1 von 1",
    not_named: "ohne Namen",

    glue_what_to_do: "Jede Fuge 1:1 in der Reihenfolge der runden Nummern, von vorn gesehen, wie das Teil liegt. \
        Raupen sind so breit gezeichnet, wie sie sich beim Pressen ausbreiten; Zahlen sagen, wo zu beginnen ist.",
    on_its_support: "auf seine Unterlage",
    support_to_board: "Unterlage auf die Platte",
    between_layers: "zwischen den Lagen der Unterlage",
    bead: "Raupe {}",
    one_dot: "1 Punkt {}",
    dots: "{} Punkte {}",
    one_tape: "1 Stück",
    tapes: "{} Stücke",
    thin_coat: "gleichmäßig dünn auftragen",
    bond_line: "Fuge {}",
    lay_in: "in {} von {} auftragen",

    supports_what_to_do: "Muster 1:1, von vorn gesehen. So viele Lagen in der Dicke schneiden, wie unter jedem \
        stehen.",
    cut_one: "1 Lage, {}",
    cut_several: "{} Lagen: {}",
    layer: "Lage {}",

    strips_what_to_do: "An den Linien ausschneiden. Wohin jeder Streifen gehört, zeigt die Schablone.",
    stand_ins_what_to_do: "Auf Karton drucken und an den Linien ausschneiden. Jeder hat die wahre Größe und den \
        Platz seines Teils.",
    printed_face: "gedruckte Ansicht",
    inert_outline: "Umriss der gefahrlosen Nachbildung",
    card: "Karton",
    thickness: "Dicke {}",

    edge_of_board: "Kante der Trägerplatte",
    window_of_frame: "Sichtbarer Ausschnitt des Rahmens",
};
