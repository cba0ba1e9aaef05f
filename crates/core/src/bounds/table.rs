//! Every range. A length on the print is in millimetres, a tone a fraction of coverage, a place a
//! fraction of the print. The ends are ours, no standard's: each lies well beyond what a press or
//! a print can use.

use super::{Bound, ListBound, TextBound};

// Texts.

/// Names of screens, inks, garments, meshes, curves, versions and platens; title, client, version and date of a job.
pub const NAME: TextBound = TextBound::new("a name", 120);
/// The job's title.
pub const TITLE: TextBound = TextBound::new("the job's title", NAME.most);
/// The client.
pub const CLIENT: TextBound = TextBound::new("the client's name", NAME.most);
/// Version or proof number.
pub const VERSION: TextBound = TextBound::new("the version", NAME.most);
/// Date.
pub const DATE: TextBound = TextBound::new("the date", NAME.most);
/// A screen.
pub const SCREEN_NAME: TextBound = TextBound::new("the name of a screen", NAME.most);
/// An ink.
pub const INK_NAME: TextBound = TextBound::new("the name of an ink", NAME.most);
/// A garment.
pub const GARMENT_NAME: TextBound = TextBound::new("the name of a garment", NAME.most);
/// A fabric.
pub const FABRIC: TextBound = TextBound::new("the fabric", NAME.most);
/// A mesh.
pub const MESH_NAME: TextBound = TextBound::new("the name of a mesh", NAME.most);
/// A gain curve or a film printer's tone.
pub const CURVE_NAME: TextBound = TextBound::new("the name of a curve", NAME.most);
/// A kept version.
pub const VERSION_NAME: TextBound = TextBound::new("the name of a version", NAME.most);
/// A platen.
pub const PLATEN_NAME: TextBound = TextBound::new("the name of a platen", NAME.most);
/// The shop.
pub const SHOP_NAME: TextBound = TextBound::new("the shop's name", NAME.most);
/// A run of the history, a source, a note.
pub const LINE: TextBound = TextBound::new("a line of text", 1000);
/// Note of a version.
pub const NOTE: TextBound = TextBound::new("the note", LINE.most);
/// Order number of a job.
pub const ORDER_NUMBER: TextBound = TextBound::new("the order number", NAME.most);
/// Where on the garment a job prints, in words.
pub const PLACEMENT: TextBound = TextBound::new("the placement", NAME.most);
/// A currency.
pub const CURRENCY: TextBound = TextBound::new("the currency", 12);
/// A size as the label has it.
pub const SIZE_NAME: TextBound = TextBound::new("a size", 40);
/// Note of a ticket.
pub const TICKET_NOTE: TextBound = TextBound::new("the note", LINE.most);
/// What was changed on press, in words.
pub const ON_PRESS: TextBound = TextBound::new("what was changed on press", LINE.most);
/// File name of a picture as received.
pub const FILE_NAME: TextBound = TextBound::new("the file name of a picture", 255);
/// Fingerprint of a picture or of screens, in hexadecimal.
pub const FINGERPRINT: TextBound = TextBound::new("a fingerprint", 64);
/// Member of a job file.
pub const MEMBER: TextBound = TextBound::new("the name of a member", 500);
/// Program that wrote a file.
pub const PROGRAM: TextBound = TextBound::new("the program's name", NAME.most);

// Lists.

/// Screens of a job.
pub const SCREENS: ListBound = ListBound::new("screens", 32);
/// Screens that something is said of by name; some may be gone from the job.
pub const NAMED_SCREENS: ListBound = ListBound::new("named screens", 256);
/// Pairs of inks that were measured wet on wet.
pub const WET_PAIRS: ListBound = ListBound::new("measured pairs of inks", 1000);
/// Edits of a job.
pub const EDITS: ListBound = ListBound::new("edits", 2000);
/// Sizes of a job.
pub const SIZES: ListBound = ListBound::new("sizes", 200);
/// Runs of the history.
pub const RUNS: ListBound = ListBound::new("runs", 1000);
/// Refills of a screen on a run.
pub const REFILLS: ListBound = ListBound::new("refills", 1000);
/// Named versions of a job.
pub const VERSIONS: ListBound = ListBound::new("versions", 1000);
/// Steps of a wedge.
pub const STEPS: ListBound = ListBound::new("steps of a wedge", 256);
/// Points of a tone curve.
pub const CURVE_POINTS: ListBound = ListBound::new("points of a tone curve", 256);
/// Corners of an outline.
pub const CORNERS: ListBound = ListBound::new("corners of an outline", 100_000);
/// Platens of a shop.
pub const PLATENS: ListBound = ListBound::new("platens", 200);
/// Paces of a press.
pub const PACES: ListBound = ListBound::new("paces of the press", 100);
/// Gain curves of a shop.
pub const GAIN_CURVES: ListBound = ListBound::new("gain curves", 200);
/// Meshes of a shop.
pub const MESHES: ListBound = ListBound::new("meshes", 200);
/// Angles of a shop.
pub const ANGLES: ListBound = ListBound::new("angles", 90);
/// Garments of a job beside its first.
pub const ALSO_ON: ListBound = ListBound::new("further garments", 3);
/// Inks of a shelf.
pub const INKS: ListBound = ListBound::new("inks", 2000);
/// Garments of a shop.
pub const GARMENTS: ListBound = ListBound::new("garments", 2000);

// The job.

/// Shirts to print.
pub const QUANTITY: Bound = Bound::new("the number of shirts", "", 0.0, 10_000_000.0);
/// Shirts of one size.
pub const SIZE_COUNT: Bound = Bound::new("the shirts of a size", "", 1.0, QUANTITY.max);
/// Version of the computation.
pub const ALGORITHM: Bound = Bound::new("the algorithm version", "", 0.0, 1_000_000.0);
/// Version of the container.
pub const SCHEMA: Bound = Bound::new("the schema version", "", 1.0, 1.0);
/// A side of stored screens.
pub const SIDE_PX: Bound = Bound::new("a side of the stored screens", "px", 1.0, 1_000_000.0);
/// Loops of a knit.
pub const WALES: Bound = Bound::new("the wales of the knit", "an inch", 1.0, 500.0);
/// Rows of loops of a knit.
pub const COURSES: Bound = Bound::new("the courses of the knit", "an inch", 1.0, 500.0);

// Preparation.

/// Page of the art's file.
pub const PAGE: Bound = Bound::new("the page", "", 1.0, 100_000.0);
/// Quarter turns.
pub const QUARTERS: Bound = Bound::new("quarter turns", "", 0.0, 3.0);
/// Straightening.
pub const STRAIGHTEN: Bound = Bound::new("straightening", "degrees", -180.0, 180.0);
/// Upper left corner of a crop.
pub const CROP_FROM: Bound = Bound::new("an edge of the crop", "", 0.0, 1.0);
/// Width or height of a crop.
pub const CROP_SIDE: Bound = Bound::new("a side of the crop", "", 0.0, 1.0);
/// Margin round the content.
pub const CONTENT_MARGIN: Bound = Bound::new("the margin round the content", "mm", 0.0, 200.0);
/// Easing of block borders.
pub const DEBLOCK: Bound = Bound::new("deblocking", "", 0.0, 1.0);
/// Evening out of noise.
pub const DENOISE: Bound = Bound::new("denoising", "", 0.0, 1.0);
/// Colours of a redraw.
pub const REDRAW_COLOURS: Bound = Bound::new("the number of colours of a redraw", "", 2.0, 64.0);
/// Smoothness of a redraw.
pub const REDRAW_SMOOTHNESS: Bound = Bound::new("the smoothness of a redraw", "", 0.0, 1.0);
/// Strength of repairing.
pub const REPAIR: Bound = Bound::new("the strength of repairing", "", 0.0, 1.0);
/// Tolerance of the background's colour.
pub const BACKGROUND_TOLERANCE: Bound = Bound::new("the background's tolerance", "", 0.0, 1.0);
/// Feather of the background's edge.
pub const BACKGROUND_FEATHER: Bound = Bound::new("the background's feather", "mm", 0.0, 10.0);
/// Widest stray speck.
pub const SPECK: Bound = Bound::new("the widest speck", "mm", 0.0, 10.0);
/// Faintness of specks.
pub const SPECK_FAINT: Bound = Bound::new("the faintness of specks", "", 0.0, 1.0);
/// Largest width of a print.
pub const PRINT_WIDTH: Bound = Bound::new("the print width", "mm", 1.0, 2500.0);
/// Largest height of a print.
pub const PRINT_HEIGHT: Bound = Bound::new("the print height", "mm", 1.0, 2500.0);
/// Working resolution.
pub const WORKING_PPI: Bound = Bound::new("the working resolution", "ppi", 10.0, 2400.0);
/// Radius of sharpening.
pub const SHARPEN_RADIUS: Bound = Bound::new("the sharpening radius", "mm", 0.0, 2.0);
/// Strength of sharpening.
pub const SHARPEN_AMOUNT: Bound = Bound::new("the sharpening amount", "", 0.0, 10.0);
/// Threshold of sharpening.
pub const SHARPEN_THRESHOLD: Bound = Bound::new("the sharpening threshold", "", 0.0, 1.0);
/// Limit of halos.
pub const HALO_LIMIT: Bound = Bound::new("the halo limit", "", 0.0, 1.0);

// Separation.

/// Prints of one screen, one on the other.
pub const HITS: Bound = Bound::new("hits", "", 1.0, 4.0);
/// Willingness of a screen.
pub const WILLINGNESS: Bound = Bound::new("the willingness of a screen", "", -1.0, 1.0);
/// Strength of black.
pub const BLACK_STRENGTH: Bound = Bound::new("black strength", "", 0.0, 1.0);
/// Cleanliness.
pub const CLEANLINESS: Bound = Bound::new("cleanliness", "", 0.0, 1.0);
/// Most ink on a spot.
pub const TOTAL_INK: Bound = Bound::new("the total ink limit", "", 0.1, 16.0);
/// Keeping of hues.
pub const HUE_KEEPING: Bound = Bound::new("hue keeping", "", 0.0, 1.0);
/// Choke of an underbase.
pub const BASE_CHOKE: Bound = Bound::new("the choke of the underbase", "mm", 0.0, 5.0);
/// Strength of the underbase.
pub const BASE_STRENGTH: Bound = Bound::new("the strength of the underbase", "", 0.0, 1.0);
/// Where the highlight white begins.
pub const HIGHLIGHT_START: Bound = Bound::new("the lightness at which the highlight white starts", "L*", 0.0, 100.0);
/// Where the highlight white is full.
pub const HIGHLIGHT_FULL: Bound = Bound::new("the lightness at which the highlight white is full", "L*", 0.0, 100.0);
/// Where the highlight white ends.
pub const HIGHLIGHT_CHROMA: Bound = Bound::new("the chroma at which the highlight white ends", "C*", 0.0, 200.0);
/// Hold of the highlight white.
pub const HIGHLIGHT_HOLD: Bound = Bound::new("the hold of the highlight white", "", 0.0, 1.0);
/// Trap of spot art.
pub const TRAP: Bound = Bound::new("the trap", "mm", 0.0, 5.0);
/// Distance within which flat colours are one.
pub const SAME_WITHIN: Bound = Bound::new("the distance of one flat colour", "", 0.005, 0.5);
/// Least share of a flat colour.
pub const LEAST_SHARE: Bound = Bound::new("the least share of a flat colour", "", 0.0, 0.5);
/// Side of an index dot of a separation.
pub const INDEX_DOT: Bound = Bound::new("the side of an index dot", "mm", 0.05, 2.0);

// Edits.

/// Choke and spread.
pub const REACH: Bound = Bound::new("the reach", "mm", 0.0, 25.0).usual(0.0, 2.0);
/// Overlap of a knock-out.
pub const OVERLAP: Bound = Bound::new("the overlap", "mm", 0.0, 25.0).usual(0.0, 2.0);
/// Area of specks and pinholes.
pub const AREA: Bound = Bound::new("the area", "mm2", 0.0, 10_000.0).usual(0.0, 5.0);
/// Radius of softening and sharpening a screen.
pub const RADIUS: Bound = Bound::new("the radius", "mm", 0.0, 25.0).usual(0.0, 5.0);
/// Strength of sharpening a screen.
pub const STRENGTH: Bound = Bound::new("the strength", "", 0.0, 5.0);
/// Soft edge.
pub const SOFT_EDGE: Bound = Bound::new("the soft edge", "mm", 0.0, 25.0).usual(0.0, 20.0);
/// Tones that are left of a screen.
pub const TONES: Bound = Bound::new("the number of tones", "", 2.0, 32.0);
/// Middle of a tone range.
pub const MIDDLE: Bound = Bound::new("the middle", "", 0.05, 0.95);
/// Gain of a screen's middle tones.
pub const GAIN: Bound = Bound::new("gain", "points", -25.0, 25.0);
/// Factor of density.
pub const DENSITY: Bound = Bound::new("density", "", 0.0, 10.0).usual(0.0, 3.0);
/// Tolerance of the background that is cleared.
pub const CLEAR_TOLERANCE: Bound = Bound::new("the tolerance", "", 0.0, 0.5).usual(0.0, 0.3);
/// Tone of a curve's point.
pub const CURVE_TONE: Bound = Bound::new("a point of the tone curve", "%", 0.0, 100.0);
/// A place of a region: fractions of the print, on it or near it.
pub const REGION: Bound = Bound::new("a place of the region", "", -100.0, 100.0);
/// Distance of a colour range.
pub const COLOR_REACH: Bound = Bound::new("the reach of the colour range", "", 0.0, 2.0);
/// Distance over which a colour range fades.
pub const COLOR_FADE: Bound = Bound::new("the fade of the colour range", "", 0.0, 2.0);
/// Width of drawn edges.
pub const EDGE_WIDTH: Bound = Bound::new("the width of edges", "mm", 0.0, 10.0);
/// Strength of drawn edges.
pub const EDGE_STRENGTH: Bound = Bound::new("the strength of edges", "", 0.0, 10.0);
/// Where shadows begin.
pub const SHADOW_START: Bound = Bound::new("the lightness where shadows begin", "L*", 0.0, 100.0);
/// Where shadows are solid.
pub const SHADOW_SOLID: Bound = Bound::new("the lightness where shadows are solid", "L*", 0.0, 100.0);

// Press.

/// Heads.
pub const HEADS: Bound = Bound::new("the heads of the press", "", 1.0, 64.0);
/// Growth of a dot's edge.
pub const EDGE_GROWTH: Bound = Bound::new("the growth of dot edges", "um", 0.0, 500.0);
/// Gain at 50 %.
pub const GAIN_AT_HALF: Bound = Bound::new("the gain at 50 %", "points", 0.0, 45.0);
/// Points of gain by which screens differ on a bad day.
pub const BAD_DAY_POINTS: Bound = Bound::new("the gain of a bad day", "points", 0.0, 25.0);
/// Yule-Nielsen's n.
pub const YULE_NIELSEN: Bound = Bound::new("Yule-Nielsen's n", "", 1.0, 10.0);
/// Register.
pub const REGISTER: Bound = Bound::new("the register", "mm", 0.0, 5.0);
/// Distance below the collar.
pub const BELOW_COLLAR: Bound = Bound::new("the distance below the collar", "mm", 0.0, 1000.0);
/// Threads of a mesh.
pub const THREADS: Bound = Bound::new("the threads of a mesh", "an inch", 10.0, 700.0);
/// Thread of a mesh.
pub const THREAD: Bound = Bound::new("the thread of a mesh", "um", 5.0, 1000.0);
/// Opening of a mesh.
pub const OPENING: Bound = Bound::new("the opening of a mesh", "um", 1.0, 3000.0);
/// Open area of a mesh.
pub const OPEN_AREA: Bound = Bound::new("the open area of a mesh", "%", 0.1, 100.0);
/// Thickness of a mesh.
pub const THICKNESS: Bound = Bound::new("the thickness of a mesh", "um", 5.0, 3000.0);
/// Ink volume of a mesh.
pub const VOLUME: Bound = Bound::new("the ink volume of a mesh", "cm3/m2", 0.1, 3000.0);
/// Density of ink.
pub const INK_DENSITY: Bound = Bound::new("the density of ink", "g/cm3", 0.1, 10.0);
/// Real use of ink over theory.
pub const USE_FACTOR: Bound = Bound::new("real use of ink over theory", "times", 0.0, 100.0);
/// Ink of a weighed shirt.
pub const WEIGHED: Bound = Bound::new("the ink of a weighed shirt", "g", 0.0, 1000.0);
/// Spoilage.
pub const SPOILAGE: Bound = Bound::new("spoilage", "", 0.0, 1.0);
/// Ink that stays in a screen.
pub const LEFT_IN_SCREEN: Bound = Bound::new("the ink left in a screen", "g", 0.0, 100_000.0);
/// Ink put on a screen at a time.
pub const CHARGE: Bound = Bound::new("the ink put on a screen", "g", 0.0, 100_000.0);
/// Ink in stock.
pub const STOCK: Bound = Bound::new("the ink in stock", "g", 0.0, 10_000_000.0);
/// Price of ink.
pub const PRICE: Bound = Bound::new("the price of ink", "a kilogram", 0.0, 1_000_000.0);
/// Minutes of a piece of work.
pub const WORK_MINUTES: Bound = Bound::new("the minutes of a piece of work", "min", 0.0, 10_000.0);
/// A price of the shop: each, an hour, a kilogram.
pub const SHOP_PRICE: Bound = Bound::new("a price", "", 0.0, 100_000_000.0);
/// Flashes.
pub const FLASHES: Bound = Bound::new("the flashes", "", 0.0, 64.0);
/// Shirts an hour.
pub const SHIRTS_AN_HOUR: Bound = Bound::new("the shirts an hour", "", 1.0, 100_000.0);
/// Margin, a share of the price.
pub const MARGIN_SHARE: Bound = Bound::new("the margin", "of the price", 0.0, 0.95);
/// Mark-up, a share of the cost.
pub const MARK_UP: Bound = Bound::new("the mark-up", "of the cost", 0.0, 20.0);
/// Decimals of a currency.
pub const CURRENCY_DECIMALS: Bound = Bound::new("the decimals of the currency", "", 0.0, 4.0);
/// Step of a price.
pub const PRICE_STEP: Bound = Bound::new("the step of a price", "", 0.0001, 1_000_000.0);
/// Reflectance of a band.
pub const REFLECTANCE: Bound = Bound::new("a reflectance", "", 0.0, 2.0);

// Films.

/// Film around the print.
pub const MARGIN: Bound = Bound::new("the film's margin", "mm", 0.0, 200.0);
/// Widest film of a printer.
pub const PRINTER_WIDTH: Bound = Bound::new("the film printer's width", "mm", 20.0, 5000.0);
/// Side of a scattered or index dot.
pub const DOT: Bound = Bound::new("the side of a dot", "mm", 0.02, 5.0);
/// Tones at which the dots of an ellipse join.
pub const JOIN: Bound = Bound::new("the tone at which an ellipse joins", "", 0.2, 0.8);

// Fingerprints of presses.

/// Fingerprints kept.
pub const FINGERPRINTS: ListBound = ListBound::new("fingerprints", 100);
/// Patches of a fingerprint.
pub const PATCHES: ListBound = ListBound::new("patches of a fingerprint", 500);
/// Coordinates of a place among patches: a coverage and a share on wet ink an ink.
pub const PATCH_PLACES: ListBound = ListBound::new("coordinates of a patch", 64);
/// Films of a patch.
pub const PATCH_FILMS: ListBound = ListBound::new("films of a patch", 8);
/// Fitted figures of a press.
pub const PATCH_FIGURES: ListBound = ListBound::new("figures of a press", 256);
/// Inks of a fingerprint.
pub const PATCH_INKS: ListBound = ListBound::new("inks of a fingerprint", 8);
/// Coverage of a patch.
pub const PATCH_COVERAGE: Bound = Bound::new("the coverage of a patch", "", 0.0, 1.0);
/// Flashes of a patch, a bit an ink.
pub const PATCH_FLASHES: Bound = Bound::new("the flashes of a patch", "", 0.0, 255.0);
/// A channel of a measured colour.
pub const PATCH_LAB: Bound = Bound::new("a channel of a measured colour", "", -200.0, 200.0);
/// A fitted figure.
pub const PATCH_FIGURE: Bound = Bound::new("a fitted figure", "", -1000.0, 1000.0);
/// Noise of a reading.
pub const READING_NOISE: Bound = Bound::new("the noise of a reading", "", 0.0, 10.0);
