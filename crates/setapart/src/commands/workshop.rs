//! `workshop`: the store, looked after.

use super::{Outcome, findings_in_words, piece_in};
use crate::cli::{WorkshopArgs, WorkshopCommand};
use crate::failure::Failure;
use crate::progress::Progress;
use crate::{files, say};
use piece::Piece;
use serde_json::{Value, json};
use shape::Watch;
use std::fs::File;
use std::io::{BufReader, BufWriter, Read, Seek};
use std::path::{Path, PathBuf};
use workshop_crate::{PieceId, Workshop, WorkshopError};

use ::workshop as workshop_crate;

pub(crate) fn run(args: &WorkshopArgs) -> Result<Outcome, Failure> {
    let folder = args.workshop.clone().unwrap_or_else(usual_folder);
    let told = match &args.does {
        WorkshopCommand::List { bin } => list(&Workshop::open(&folder)?, *bin)?,
        WorkshopCommand::Show { piece } => {
            say::print(Workshop::open(&folder)?.piece(*piece)?.piece.to_json());
            return Ok(Outcome::Fine);
        }
        WorkshopCommand::Check => return check(&Workshop::open(&folder)?, args.json),
        WorkshopCommand::Backup { to } => backup(&Workshop::open(&folder)?, to)?,
        WorkshopCommand::Restore { from, replace } => restore(from, &folder, *replace)?,
        WorkshopCommand::Export { piece, out, photos } => {
            export(&Workshop::open(&folder)?, *piece, out, *photos)?
        }
        WorkshopCommand::Import { file } => import(&folder, file)?,
    };
    if args.json {
        say::json(&told.json);
    } else {
        say::print(told.words);
    }
    Ok(Outcome::Fine)
}

/// What a command tells, for people and for scripts.
struct Told {
    words: String,
    json: Value,
}

/// `setapart` in the folder that the system keeps for a user's data.
pub(crate) fn usual_folder() -> PathBuf {
    let named = |name: &str| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    named("XDG_DATA_HOME")
        .or_else(|| named("LOCALAPPDATA"))
        .or_else(|| named("HOME").map(|home| home.join(".local/share")))
        .unwrap_or_default()
        .join("setapart")
}

fn list(store: &Workshop, bin: bool) -> Result<Told, Failure> {
    let pieces = if bin {
        store.binned_pieces()
    } else {
        store.pieces()
    }?;
    let mut words = String::new();
    if pieces.is_empty() {
        words = if bin {
            "Nothing is in the bin.\n".into()
        } else {
            "No piece yet. Begin one with `setapart serve`, or `setapart workshop import FILE`.\n"
                .into()
        };
    } else {
        words += "number  parts  placed  name\n";
    }
    for p in &pieces {
        words += &format!(
            "{:>6}  {:>5}  {:>6}  {}\n",
            p.id.number(),
            p.parts,
            p.placed,
            p.name
        );
    }
    Ok(Told {
        words,
        json: json!({ "pieces": pieces }),
    })
}

fn check(store: &Workshop, as_json: bool) -> Result<Outcome, Failure> {
    let progress = Progress::new();
    let checked = store.check(&shown(&progress, "checking"))?;
    drop(progress);
    if as_json {
        say::json(&json!({
            "pieces": checked.pieces, "revisions": checked.revisions, "images": checked.images,
            "findings": checked.findings,
        }));
    } else {
        say::line(format_args!(
            "{}: {}, {}, {}",
            store.folder().display(),
            say::counted(checked.pieces, "piece"),
            say::counted(checked.revisions, "state"),
            say::counted(checked.images, "image"),
        ));
        if checked.findings.is_empty() {
            say::line("Everything is as it was stored.");
        } else {
            say::print(findings_in_words(&checked.findings));
        }
    }
    Ok(Outcome::of(&checked.findings))
}

fn backup(store: &Workshop, to: &Path) -> Result<Told, Failure> {
    let progress = Progress::new();
    let copied = store.back_up(to, &shown(&progress, "copying"))?;
    drop(progress);
    Ok(Told {
        words: format!(
            "{}: up to date; {} of {} images are new\n",
            to.display(),
            copied.new_images,
            copied.images
        ),
        json: json!({ "backup": to, "images": copied.images, "new_images": copied.new_images }),
    })
}

fn restore(from: &Path, folder: &Path, replace: bool) -> Result<Told, Failure> {
    let progress = Progress::new();
    let copied = workshop_crate::restore(from, folder, replace, &shown(&progress, "restoring")).map_err(|e| match e {
        // Said in the command's own words.
        WorkshopError::Refused { problem, .. } if problem.contains("allow it to be replaced") => Failure::Argument {
            option: "workshop restore",
            problem: format!(
                "{} holds a workshop already; with --replace it is set aside (not deleted) and the backup takes its place",
                folder.display()
            ),
        },
        WorkshopError::NotThere { folder } if folder == from => Failure::Argument {
            option: "workshop restore",
            problem: format!(
                "{} holds no backup; name the folder that `setapart workshop backup` wrote",
                folder.display()
            ),
        },
        other => other.into(),
    })?;
    drop(progress);
    let mut words = format!("{}: restored, {} images\n", folder.display(), copied.images);
    if let Some(aside) = &copied.set_aside {
        words += &format!("What was there before is in {}\n", aside.display());
    }
    Ok(Told {
        words,
        json: json!({ "workshop": folder, "images": copied.images, "set_aside": copied.set_aside }),
    })
}

fn export(store: &Workshop, piece: PieceId, out: &Path, photos: bool) -> Result<Told, Failure> {
    let write = |source| Failure::Write {
        path: out.into(),
        source,
    };
    // Into a file of its own first: what stands under the name is whole, or as it was.
    let part = out.with_file_name(format!(
        ".{}.{}.part",
        out.file_name().unwrap_or_default().to_string_lossy(),
        std::process::id()
    ));
    let written = File::create(&part)
        .map_err(write)
        .and_then(|file| {
            store
                .write_bundle(piece, photos, BufWriter::new(&file))
                .map_err(|source| Failure::Bundle {
                    path: out.into(),
                    source,
                })?;
            file.sync_all().map_err(write)
        })
        .and_then(|()| std::fs::rename(&part, out).map_err(write));
    if written.is_err() {
        let _ = std::fs::remove_file(&part);
    }
    written?;
    Ok(Told {
        words: format!("{}\n", out.display()),
        json: json!({ "bundle": out }),
    })
}

fn import(folder: &Path, path: &Path) -> Result<Told, Failure> {
    let read = |source| Failure::Read {
        path: path.into(),
        source,
    };
    let mut file = File::open(path).map_err(read)?;
    if file.metadata().map_err(read)?.is_dir() {
        return Err(read(std::io::ErrorKind::IsADirectory.into()));
    }
    let mut start = Vec::new();
    file.by_ref()
        .take(2)
        .read_to_end(&mut start)
        .map_err(read)?;
    file.rewind().map_err(read)?;
    let opened = if start == b"PK" {
        let store = Workshop::open_or_create(folder)?;
        store
            .read_bundle(BufReader::new(file))
            .map_err(|source| Failure::Bundle {
                path: path.into(),
                source,
            })?
    } else {
        let piece = piece_in(path)?;
        let beside = path.parent().unwrap_or(Path::new("."));
        let images = read_cutouts(&piece, beside)?;
        let store = Workshop::open_or_create(folder)?;
        store.new_piece(&with_stored(&store, piece, &images)?)?
    };
    Ok(Told {
        words: format!("{} is piece number {}\n", opened.piece.name, opened.id),
        json: json!({ "piece": opened.id, "name": opened.piece.name, "parts": opened.piece.parts.len() }),
    })
}

/// The cut-outs that a document names, part by part, each part's in the order of [`piece::Part::images`].
fn read_cutouts(piece: &Piece, folder: &Path) -> Result<Vec<Vec<u8>>, Failure> {
    let mut images = Vec::new();
    for part in &piece.parts {
        for image in part.images() {
            let path = files::path_inside(folder, image).ok_or_else(|| Failure::Cutout {
                part: part.id.to_string(),
                image: image.to_owned(),
                problem: "its path must lead into the piece's own folder".into(),
            })?;
            images.push(files::read(
                &path,
                workshop_crate::MAX_IMAGE_BYTES,
                "a cut-out",
            )?);
        }
    }
    Ok(images)
}

/// The piece with its cut-outs in the store.
fn with_stored(store: &Workshop, mut piece: Piece, images: &[Vec<u8>]) -> Result<Piece, Failure> {
    let mut images = images.iter();
    for part in &mut piece.parts {
        let id = part.id.to_string();
        for (image, bytes) in part.images_mut().zip(&mut images) {
            let name = store.add_image(bytes).map_err(|e| Failure::Cutout {
                part: id.clone(),
                image: image.clone(),
                problem: e.to_string(),
            })?;
            *image = name.to_string();
        }
    }
    Ok(piece)
}

/// Shows how far a copy or a check is. Nobody can stop one halfway.
fn shown<'a>(progress: &'a Progress, what: &'a str) -> impl Fn(f64) + 'a {
    move |share| {
        let _ = progress.step(what, share);
    }
}
