//! The look: one palette for dark and one for light, one set of sizes. The table's surround is
//! the same neutral grey in both, because a coloured or bright surround shifts how a print is
//! judged. One accent; findings have their own mark and never speak by colour alone.

use egui::style::{WidgetVisuals, Widgets};
use egui::{
    Color32, Context, CornerRadius, FontFamily, FontId, Margin, Shadow, Stroke, TextStyle, Theme, Visuals, vec2,
};

/// The colours of one theme.
#[derive(Debug, PartialEq, Eq)]
pub struct Palette {
    /// Rail, side panels, press order.
    pub panel: Color32,
    /// A card on a panel.
    pub card: Color32,
    /// A card under the pointer.
    pub card_hover: Color32,
    /// Fields and tracks sunk into a card.
    pub well: Color32,
    /// Around the shirt: neutral grey.
    pub surround: Color32,
    /// Text on the surround.
    pub on_surround: Color32,
    /// Ordinary text.
    pub text: Color32,
    /// Text that matters less; still 4.5 to 1 on a card.
    pub weak: Color32,
    /// Hairlines and card edges.
    pub line: Color32,
    /// What is chosen, and the main action.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// Behind a flash or a chosen row.
    pub accent_soft: Color32,
    /// The filled part of a track.
    pub fill: Color32,
    /// Something stops the job.
    pub stop: Color32,
}

/// The dark theme.
pub const DARK: Palette = Palette {
    panel: Color32::from_rgb(0x2c, 0x2d, 0x2f),
    card: Color32::from_rgb(0x3a, 0x3b, 0x3e),
    card_hover: Color32::from_rgb(0x44, 0x46, 0x49),
    well: Color32::from_rgb(0x24, 0x25, 0x27),
    surround: Color32::from_rgb(0x70, 0x71, 0x72),
    on_surround: Color32::from_rgb(0xf6, 0xf6, 0xf6),
    text: Color32::from_rgb(0xee, 0xee, 0xec),
    weak: Color32::from_rgb(0xb0, 0xb1, 0xb3),
    line: Color32::from_rgb(0x4d, 0x4f, 0x52),
    accent: Color32::from_rgb(0xe4, 0xa2, 0x3c),
    on_accent: Color32::from_rgb(0x1e, 0x19, 0x10),
    accent_soft: Color32::from_rgb(0x4b, 0x3c, 0x26),
    fill: Color32::from_rgb(0xc9, 0xca, 0xcc),
    stop: Color32::from_rgb(0xf0, 0x82, 0x6e),
};

/// The light theme.
pub const LIGHT: Palette = Palette {
    panel: Color32::from_rgb(0xe9, 0xe9, 0xe7),
    card: Color32::from_rgb(0xf8, 0xf8, 0xf6),
    card_hover: Color32::from_rgb(0xff, 0xff, 0xff),
    well: Color32::from_rgb(0xdd, 0xdd, 0xda),
    surround: Color32::from_rgb(0x70, 0x71, 0x72),
    on_surround: Color32::from_rgb(0xf6, 0xf6, 0xf6),
    text: Color32::from_rgb(0x20, 0x21, 0x23),
    weak: Color32::from_rgb(0x58, 0x5a, 0x5d),
    line: Color32::from_rgb(0xc4, 0xc4, 0xc1),
    accent: Color32::from_rgb(0x92, 0x57, 0x06),
    on_accent: Color32::from_rgb(0xff, 0xff, 0xff),
    accent_soft: Color32::from_rgb(0xf3, 0xe2, 0xc6),
    fill: Color32::from_rgb(0x6c, 0x6e, 0x71),
    stop: Color32::from_rgb(0xb3, 0x33, 0x1f),
};

/// Gap between groups, points.
pub const GROUP: f32 = 12.0;
/// Corner of cards and fields, points.
pub const CORNER: u8 = 6;

/// The palette of the theme in use.
pub fn palette(ctx: &Context) -> &'static Palette {
    match ctx.theme() {
        Theme::Dark => &DARK,
        Theme::Light => &LIGHT,
    }
}

/// A text style between body and heading, for names on cards.
pub fn strong_style() -> TextStyle {
    TextStyle::Name("strong".into())
}

/// Gives the context our two themes and sizes.
pub fn install(ctx: &Context) {
    for (theme, palette) in [(Theme::Dark, &DARK), (Theme::Light, &LIGHT)] {
        ctx.set_visuals_of(theme, visuals(theme, palette));
    }
    ctx.all_styles_mut(|style| {
        style.text_styles = [
            (TextStyle::Heading, FontId::new(17.0, FontFamily::Proportional)),
            (strong_style(), FontId::new(13.5, FontFamily::Proportional)),
            (TextStyle::Body, FontId::new(13.0, FontFamily::Proportional)),
            (TextStyle::Button, FontId::new(13.0, FontFamily::Proportional)),
            (TextStyle::Small, FontId::new(11.5, FontFamily::Proportional)),
            (TextStyle::Monospace, FontId::new(12.0, FontFamily::Monospace)),
        ]
        .into();
        style.spacing.item_spacing = vec2(8.0, 6.0);
        style.spacing.button_padding = vec2(10.0, 5.0);
        style.spacing.interact_size = vec2(28.0, 24.0);
        style.spacing.slider_rail_height = 5.0;
        style.spacing.window_margin = Margin::same(18);
        style.spacing.menu_margin = Margin::same(8);
        style.spacing.tooltip_width = 320.0;
        style.interaction.tooltip_delay = 0.45;
        style.interaction.selectable_labels = false;
        style.animation_time = 0.08;
    });
}

/// Sizes of the window's letters, the most used ones first.
const LETTER_POINTS: [f32; 7] = [13.0, 11.5, 13.5, 12.0, 12.5, 17.0, 11.0];

/// Draws letters of the window into the atlas, so that they need not be drawn in the frames that first show
/// them: one size in each of the first frames, as all together would take several frames' time. Tells
/// whether another frame is needed for it.
pub fn ready_letters(ctx: &Context, frame: u64) -> bool {
    // The very first frame has enough to do.
    let place = frame.checked_sub(1).and_then(|place| usize::try_from(place).ok());
    let Some(&size) = place.and_then(|place| LETTER_POINTS.get(place)) else { return frame == 0 };
    // A letter is drawn again for each part of a pixel that it may begin at: mixed texts meet most of them.
    let letters: String = (' '..='~').collect();
    let words =
        "of on the in and screens 0.5 % 45 lpi 22.5° 230/48 · – × Ink black, Process blue: first print, 12.7 mm";
    let all = format!("{letters}{words}{letters}{}", letters.chars().rev().collect::<String>());
    ctx.fonts_mut(|fonts| fonts.layout_no_wrap(all, FontId::proportional(size), Color32::WHITE));
    true
}

fn visuals(theme: Theme, p: &Palette) -> Visuals {
    let mut v = match theme {
        Theme::Dark => Visuals::dark(),
        Theme::Light => Visuals::light(),
    };
    let corner = CornerRadius::same(CORNER);
    let state = |bg: Color32, edge: Stroke, fg: Color32| WidgetVisuals {
        bg_fill: bg,
        weak_bg_fill: bg,
        bg_stroke: edge,
        corner_radius: corner,
        fg_stroke: Stroke::new(1.0, fg),
        expansion: 0.0,
    };
    v.widgets = Widgets {
        noninteractive: state(p.panel, Stroke::new(1.0, p.line), p.text),
        inactive: state(p.well, Stroke::NONE, p.text),
        hovered: state(p.card_hover, Stroke::new(1.0, p.weak), p.text),
        active: state(p.accent_soft, Stroke::new(1.0, p.accent), p.text),
        open: state(p.well, Stroke::new(1.0, p.line), p.text),
    };
    v.selection.bg_fill = p.accent_soft;
    v.selection.stroke = Stroke::new(1.5, p.accent);
    v.panel_fill = p.panel;
    v.window_fill = p.panel;
    v.window_stroke = Stroke::new(1.0, p.line);
    v.window_corner_radius = CornerRadius::same(10);
    v.menu_corner_radius = CornerRadius::same(8);
    v.window_shadow = Shadow { offset: [0, 6], blur: 24, spread: 0, color: Color32::from_black_alpha(90) };
    v.popup_shadow = Shadow { offset: [0, 4], blur: 12, spread: 0, color: Color32::from_black_alpha(80) };
    v.extreme_bg_color = p.well;
    v.faint_bg_color = p.card;
    v.text_edit_bg_color = Some(p.well);
    v.weak_text_color = Some(p.weak);
    v.hyperlink_color = p.accent;
    v.warn_fg_color = p.accent;
    v.error_fg_color = p.stop;
    v.slider_trailing_fill = true;
    v
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio of WCAG 2.2 (W3C), success criterion 1.4.3.
    fn contrast(a: Color32, b: Color32) -> f32 {
        let luminance = |c: Color32| {
            let [r, g, b, _] = egui::Rgba::from(c).to_array();
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_reaches_the_contrast_that_wcag_asks_for() {
        for p in [&DARK, &LIGHT] {
            for (fg, bg) in [
                (p.text, p.panel),
                (p.text, p.card),
                (p.text, p.well),
                (p.weak, p.panel),
                (p.weak, p.card),
                (p.weak, p.well),
                (p.text, p.accent_soft),
                (p.on_accent, p.accent),
                // What is chosen among several, and links.
                (p.accent, p.accent_soft),
                (p.accent, p.panel),
                (p.stop, p.panel),
                (p.on_surround, p.surround),
            ] {
                let ratio = contrast(fg, bg);
                assert!(ratio >= 4.5, "{fg:?} on {bg:?} is {ratio:.2}");
            }
        }
    }

    #[test]
    fn the_surround_is_neutral() {
        for p in [&DARK, &LIGHT] {
            let [r, g, b, _] = p.surround.to_array();
            assert!(r.abs_diff(g) <= 2 && g.abs_diff(b) <= 2);
        }
    }
}
