//! English.

use super::{Words, sheets};

/// English words.
pub const ENGLISH: Words = Words {
    guide: "Building guide",
    kit_guide: "Kit guide",
    contents: "Contents",
    page_of: "{} of {}",
    edition: "Edition",

    frame: "Frame",
    parts: "Parts",
    mass: "Mass, framed",
    hands_on: "Work",
    elapsed: "Start to end",

    minutes: "min",
    hours: "h",
    days: "days",
    of_work: "{} of work",
    waiting: "{} of waiting",

    before: "Before you start",
    before_text: "Read these once now. Each stands again at the step that it belongs to.",
    local_rules: "The rules of your country, your workplace and your waste service come before this guide. Leave mains \
                  parts, cathode-ray tubes and damaged cells to people who are licensed for them.",
    no_cautions: "The build plan names no hazard beyond sharp edges and the fumes of glue. Keep the room aired all the \
                  same, and wear eye protection when you cut.",
    protection: "Protection",
    rule: "Rule",
    caution: "Caution",

    needs: "What you need",
    needs_text: "Amounts have their waste in them. The last column is what is sold for it.",
    materials: "Materials",
    material: "Material",
    amount: "Amount",
    buy: "Buy",
    as_used: "as used",
    part: "Part",
    number: "No.",
    size: "Size",
    thickness: "Height",
    shown_as: "Shown as",
    itself: "itself",
    stand_in: "stand-in",
    parts_in_box: "Parts in the box",
    parts_in_box_text: "Lay all parts out and tick them off before anything else. Keep screws and small parts in a tray, \
                        in the order of their numbers.",
    parts_to_find: "Parts to find",
    parts_to_find_text: "Compare a find with its outline on the template at 1:1 before you buy or cut anything. A part \
                         that cannot be found may be shown as a stand-in: a print or a card of its true size.",
    look_for: "Look for",
    not_known: "not known",
    sheets: "Sheets that belong to this guide",
    sheets_text: "Print them at 100 %, never “fit to page”, and measure both bars on each page: {}. Where they \
                  differ by less than 1 %, give what you measured to the program and print again.",
    sheet_lines: [
        "Template, whole or in pages to join: where every part lies, at 1:1.",
        "Board art, for a print shop, with bleed and trim marks; bare under every part.",
        "Glue sheet: beads, dots and tape for every joint, in their order, with the dose.",
        "Supports: patterns of what fills under the parts; nested for a machine as DXF and SVG.",
        "Stand-ins at 1:1, caption strips and the plaque.",
        "Cut files in mm: outlines, fills, holes in the board, mat window.",
    ],
    map: "Where every part lies",

    stages: [
        "Prepare the parts",
        "Fill and dry fit",
        "Carry the places over",
        "Glue, press, cure",
        "Close the frame",
        "Hang it",
        "Later",
    ],
    step: "Step {}",
    start_timer: "Start timer: {}",
    timer_done: "Time is up",
    progress: "{} of {} steps done",
    forget_ticks: "Start again",
    handles: "Parts",

    schedule: "Schedule",
    schedule_text: "Filled bars are work, light bars are waiting. Steps with a dark edge set the end: a delay there \
                    delays the piece. Nights are not taken out.",
    working: "work",
    no_slack: "sets the end",

    closing: "Checks before closing",
    closing_text: "Once the glazing is in, every speck and every loose part is a reason to open it again. Tick these off \
                   while the frame lies open.",
    closing_checks: [
        "Every part holds when it is pushed lightly from the side. None rocks.",
        "Glue has had its full cure time, not only its handling time.",
        "Nothing reaches higher than the spacer: lay a ruler across and look under it.",
        "No cell, no damaged cell and no cell’s foil is on the board.",
        "Captions are straight, and each stands at its own part.",
        "Films are off the display, the glazing and the shells.",
        "Glazing is clean on the inside: look along it against a dark cloth.",
        "Dust and static are off board and parts: a soft brush, then a blower.",
        "A photo is taken of the open piece, straight from above, for whoever opens it later.",
    ],
    open_findings: "Open points of the build plan",

    packing: "Packing",
    packing_text: "What is framed behind glass travels upright, like a pane, never flat.",
    packing_lines: [
        "Tape the glass crosswise, so that splinters hold together; leave acrylic bare under a sheet of paper.",
        "Wrap the piece in paper first, then in bubble film with the bubbles outwards.",
        "Put guards on all four corners.",
        "Leave 50 to 75 mm of cushion on every side, in a box that does not bulge.",
        "Shake the box gently: if anything moves, cushion more.",
        "Mark the box: fragile, glass, this way up. State lithium cells only if some are inside; here there should be none.",
    ],

    recycling: "What to recycle where",
    recycling_text: "What is left over, and what stand-ins replace. Local rules come first.",
    stream_cells: "Battery collection point, terminals taped, each in a bag of its own. Damaged or swollen ones: ask \
                   before you carry them.",
    stream_boards: "Electronics collection point. Boards larger than 10 cm² are taken out of devices there too.",
    stream_screens: "Electronics collection point. Cracked glass under film.",
    stream_lamps: "Hazardous waste (mercury). Unbroken, padded.",
    stream_tubes: "Electronics collection point, carried there by somebody trained. Never opened or broken: high voltage stays in it, and \
                   the glass flies.",
    stream_capacitors: "Electronics collection point, once somebody qualified has discharged it: its charge can kill.",
    stream_cables: "Electronics collection point, with the insulation on; never burnt off.",
    stream_hazardous: "Hazardous waste (beryllium). Whole and bagged; never cut, ground or broken.",
    stream_plastics: "Electronics collection point or household plastics, as your waste service says.",
    stream_metals: "Scrap metal.",
    stream_glass: "Recycling yard, wrapped and marked; not with bottle glass.",
    stream_mixed: "Electronics collection point.",
    stream_chemicals: "Rests of glue, solvent and cloths with them: hazardous waste; let rests of glue cure first.",
    goes_to: "Goes to",
    what: "What",

    later: "Later: opening it again",
    later_text: "A piece can be opened and put right. Nothing here is urgent.",

    numbers: "Numbers and their standing",
    numbers_text: "The plan rests on these handbook figures. “Recalled” means from memory: check it before anything \
                   heavy or dear hangs on it. All of them can be changed.",
    figure: "Figure",
    value: "Value",
    source: "Source",
    standing: "Standing",
    standings: ["published", "common practice", "recalled", "your own"],
    times_gravity: "{} times gravity",

    sheet: sheets::ENGLISH,
};
