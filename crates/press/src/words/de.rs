//! German.

use super::{Words, sheets};

/// German words.
pub const GERMAN: Words = Words {
    guide: "Bauanleitung",
    kit_guide: "Bausatz-Anleitung",
    contents: "Inhalt",
    page_of: "{} von {}",
    edition: "Auflage",

    frame: "Rahmen",
    parts: "Teile",
    mass: "Masse, gerahmt",
    hands_on: "Arbeit",
    elapsed: "Anfang bis Ende",

    minutes: "min",
    hours: "h",
    days: "Tage",
    of_work: "{} Arbeit",
    waiting: "{} Wartezeit",

    before: "Bevor es losgeht",
    before_text: "Diese Hinweise einmal jetzt lesen. Jeder steht bei seinem Schritt noch einmal.",
    local_rules: "Die Vorschriften des Landes, des Betriebs und der örtlichen Entsorgung gehen dieser Anleitung vor. \
                  Netzteile, Bildröhren und beschädigte Zellen gehören in die Hände von Fachleuten mit Zulassung.",
    no_cautions: "Der Bauplan nennt keine Gefahr außer scharfen Kanten und Klebstoffdämpfen. Trotzdem den Raum lüften \
                  und beim Schneiden eine Schutzbrille tragen.",
    protection: "Schutz",
    rule: "Regel",
    caution: "Vorsicht",

    needs: "Was gebraucht wird",
    needs_text: "Der Verschnitt ist eingerechnet. Die letzte Spalte nennt, was dafür im Handel ist.",
    materials: "Material",
    material: "Material",
    amount: "Menge",
    buy: "Kaufen",
    as_used: "nach Verbrauch",
    part: "Teil",
    number: "Nr.",
    size: "Größe",
    thickness: "Höhe",
    shown_as: "Gezeigt als",
    itself: "Original",
    stand_in: "Platzhalter",
    parts_in_box: "Teile in der Schachtel",
    parts_in_box_text: "Zuerst alle Teile auslegen und abhaken. Schrauben und Kleinteile kommen in eine Schale, in der \
                        Reihenfolge ihrer Nummern.",
    parts_to_find: "Teile, die zu finden sind",
    parts_to_find_text: "Jeden Fund vor dem Kaufen oder Schneiden mit seinem Umriss auf der Schablone 1:1 vergleichen. \
                         Was nicht zu finden ist, darf ein Platzhalter zeigen: ein Druck oder Karton in wahrer Größe.",
    look_for: "Gesucht",
    not_known: "unbekannt",
    sheets: "Bögen zu dieser Anleitung",
    sheets_text: "Mit 100 % drucken, nie „an Seite anpassen“, und auf jeder Seite beide Balken messen: {}. Weichen \
                  sie um weniger als 1 % ab, das Gemessene dem Programm angeben und neu drucken.",
    sheet_lines: [
        "Schablone, ganz oder in Seiten zum Aneinanderkleben: wo jedes Teil liegt, 1:1.",
        "Grafik der Trägerplatte für die Druckerei, mit Beschnitt und Schnittmarken; unter jedem Teil unbedruckt.",
        "Klebebogen: Raupen, Punkte und Band jeder Fuge, in ihrer Reihenfolge, mit Dosis.",
        "Unterlagen: Muster dessen, was unter den Teilen liegt; verschachtelt für Maschinen als DXF und SVG.",
        "Platzhalter 1:1, Beschriftungsstreifen und Schild.",
        "Schnittdateien in mm: Umrisse, Füllungen, Löcher der Platte, Passepartout-Ausschnitt.",
    ],
    map: "Wo jedes Teil liegt",

    stages: [
        "Teile vorbereiten",
        "Füllen und trocken anpassen",
        "Plätze übertragen",
        "Kleben, pressen, aushärten",
        "Rahmen schließen",
        "Aufhängen",
        "Später",
    ],
    step: "Schritt {}",
    start_timer: "Uhr starten: {}",
    timer_done: "Die Zeit ist um",
    progress: "{} von {} Schritten erledigt",
    forget_ticks: "Von vorn beginnen",
    handles: "Teile",

    schedule: "Zeitplan",
    schedule_text: "Volle Balken sind Arbeit, helle sind Wartezeit. Schritte mit dunklem Rand bestimmen das Ende: Verzug \
                    dort verzögert das Stück. Nächte sind nicht abgezogen.",
    working: "Arbeit",
    no_slack: "bestimmt das Ende",

    closing: "Prüfen vor dem Schließen",
    closing_text: "Ist die Scheibe erst drin, ist jeder Fussel und jedes lose Teil ein Grund, wieder zu öffnen. Abhaken, \
                   solange der Rahmen offen liegt.",
    closing_checks: [
        "Jedes Teil hält, wenn man es leicht von der Seite schiebt. Keines wackelt.",
        "Der Klebstoff hatte seine volle Aushärtezeit, nicht nur die Zeit bis zum Anfassen.",
        "Nichts ragt über die Abstandsleiste: ein Lineal darüberlegen und darunter durchsehen.",
        "Keine Zelle, keine beschädigte Zelle und keine Zellenfolie ist auf der Platte.",
        "Beschriftungen sind gerade, und jede steht bei ihrem Teil.",
        "Folien sind ab: von Anzeige, Scheibe und Gehäuseschalen.",
        "Die Scheibe ist innen sauber: gegen ein dunkles Tuch an ihr entlangsehen.",
        "Staub und statische Ladung sind von Platte und Teilen: weicher Pinsel, dann Blasebalg.",
        "Vom offenen Stück ist ein Foto gemacht, gerade von oben, für alle, die es später öffnen.",
    ],
    open_findings: "Offene Punkte des Bauplans",

    packing: "Verpacken",
    packing_text: "Was hinter Glas gerahmt ist, reist stehend wie eine Scheibe, nie liegend.",
    packing_lines: [
        "Glas kreuzweise abkleben, damit Splitter zusammenhalten; Acryl bleibt frei, mit einem Bogen Papier darauf.",
        "Das Stück zuerst in Papier wickeln, dann in Luftpolsterfolie, Noppen nach außen.",
        "Alle vier Ecken mit Kantenschutz versehen.",
        "Ringsum 50 bis 75 mm Polster lassen, in einem Karton, der sich nicht wölbt.",
        "Den Karton sanft schütteln: bewegt sich etwas, mehr polstern.",
        "Karton kennzeichnen: zerbrechlich, Glas, oben. Lithiumzellen nur angeben, wenn welche darin sind; hier sollten keine sein.",
    ],

    recycling: "Was wohin gehört",
    recycling_text: "Was übrig bleibt, und was Platzhalter ersetzen. Örtliche Vorschriften gehen vor.",
    stream_cells: "Batterie-Sammelstelle, Pole abgeklebt, jede in einem eigenen Beutel. Beschädigte oder aufgeblähte: vor \
                   dem Transport nachfragen.",
    stream_boards: "Sammelstelle für Elektrogeräte. Leiterplatten über 10 cm² werden dort auch aus Geräten genommen.",
    stream_screens: "Sammelstelle für Elektrogeräte. Gesprungenes Glas unter Folie.",
    stream_lamps: "Schadstoffsammlung (Quecksilber). Unzerbrochen, gepolstert.",
    stream_tubes: "Sammelstelle für Elektrogeräte, hingebracht von jemandem, der darin geschult ist. Nie öffnen oder zerbrechen: darin \
                   bleibt Hochspannung, und das Glas fliegt umher.",
    stream_capacitors: "Sammelstelle für Elektrogeräte, wenn eine Fachkraft ihn entladen hat: seine Ladung kann töten.",
    stream_cables: "Sammelstelle für Elektrogeräte, mit der Isolierung; nie abbrennen.",
    stream_hazardous: "Schadstoffsammlung (Beryllium). Ganz und in einem Beutel; nie schneiden, schleifen oder zerbrechen.",
    stream_plastics: "Sammelstelle für Elektrogeräte oder Wertstoffe, wie die örtliche Entsorgung es vorschreibt.",
    stream_metals: "Altmetall.",
    stream_glass: "Wertstoffhof, eingewickelt und beschriftet; nicht zum Flaschenglas.",
    stream_mixed: "Sammelstelle für Elektrogeräte.",
    stream_chemicals: "Reste von Klebstoff und Lösemittel samt Tüchern: Schadstoffsammlung; Klebstoffreste erst aushärten \
                       lassen.",
    goes_to: "Gehört zu",
    what: "Was",

    later: "Später: wieder öffnen",
    later_text: "Ein Stück lässt sich öffnen und in Ordnung bringen. Nichts davon eilt.",

    numbers: "Zahlen und ihr Stand",
    numbers_text: "Auf diesen Tabellenwerten beruht der Plan. „Erinnert“ heißt aus dem Gedächtnis: prüfen, bevor etwas \
                   Schweres oder Teures daran hängt. Alle lassen sich ändern.",
    figure: "Größe",
    value: "Wert",
    source: "Quelle",
    standing: "Stand",
    standings: [
        "veröffentlicht",
        "übliche Praxis",
        "erinnert",
        "eigener Wert",
    ],
    times_gravity: "{}-fache Schwerkraft",

    sheet: sheets::GERMAN,
};
