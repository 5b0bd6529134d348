use super::*;
use crate::base::Decisions;
use crate::design::sample;
use crate::shop::{Workshop, plan};
use crate::spec::job::ShopSection;

fn with_sheet<T>(design: &Design, f: impl Fn(&Sheet<'_>) -> T) -> T {
    let workshop = Workshop::decide(
        &ShopSection::default(),
        crate::base::System::Metric,
        &mut Decisions::default(),
    );
    let plan = plan(design, &workshop);
    let pictures = BTreeMap::from([("plate-a".to_owned(), "<svg id=\"a\"></svg>\n".to_owned())]);
    let solids = [SolidFacts {
        name: "plate-a".into(),
        volume_mm3: 283_000.0,
        mass_g: 764.1,
        triangles: 4000,
    }];
    f(&Sheet {
        design,
        plan: &plan,
        solids: &solids,
        pictures: &pictures,
    })
}

fn page(sheet: &Sheet<'_>) -> String {
    crate::write::document::html::page(&content::document(sheet))
}

/// Every tag that opens is closed in order; returns the texts between tags.
fn balanced(html: &str) -> Vec<String> {
    let void = ["meta", "br", "!DOCTYPE"];
    let mut open: Vec<String> = Vec::new();
    let mut texts = Vec::new();
    for piece in html.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("a whole tag");
        let name = tag.split([' ', '\n']).next().unwrap_or_default();
        if let Some(name) = name.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(name), "near {tag}");
        } else if !void.contains(&name) && !tag.ends_with('/') {
            open.push(name.to_owned());
        }
        texts.push(text.to_owned());
    }
    assert!(open.is_empty(), "{open:?}");
    texts
}

#[test]
fn the_page_is_well_formed_and_escapes_what_users_write() {
    let mut design = sample::design();
    design.title = "<script>alert('x')</script> & \"coaster\"".into();
    let page = with_sheet(&design, page);
    assert!(!page.contains("<script"));
    assert!(
        page.contains("&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; &quot;coaster&quot;")
    );
    assert!(page.contains("wall of 4.2 mm between the cavity and &lt;B9&gt;"));
    let start = page.find("<body>").expect("a body");
    balanced(&page[start..page.len() - "</html>\n".len()]);
    // Nothing is fetched from outside; the name of SVG's vocabulary is no
    // address, and clip paths stand in the page.
    let page = page
        .replace("http://www.w3.org/2000/svg", "")
        .replace("url(#", "");
    for word in ["http:", "https:", "url(", "@import", "src="] {
        assert!(!page.contains(word), "{word}");
    }
}

#[test]
fn every_hole_and_operation_has_its_row() {
    let design = sample::design();
    let page = with_sheet(&design, page);
    for plate in &design.plates {
        for f in &plate.features {
            let cell = format!("<td class=\"t\">{}</td>", f.tag);
            assert_eq!(page.matches(&cell).count(), 1, "{}", f.tag);
        }
    }
    assert!(page.contains("6.000 – 6.012"));
    assert!(page.contains("drill ø6.8 through: A3, A4, A5, A6"));
    assert!(page.contains("socket head cap screw ISO 4762 - M8 x 25"));
    assert!(page.contains("the projected area &lt;or&gt; the pressure"));
    assert!(!page.contains("NOT RELEASED"));
}

#[test]
fn a_stop_puts_the_banner_on_top() {
    let mut design = sample::design();
    design.findings[0].level = Level::Stop;
    let page = with_sheet(&design, page);
    let banner = page.find("NOT RELEASED").expect("a banner");
    assert!(banner < page.find("<h2").expect("a heading"));
}

#[test]
fn the_csv_reads_back_with_every_hole_step() {
    let design = sample::design();
    let text = with_sheet(&design, |s| csv::table(s).expect("csv"));
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<::csv::StringRecord> = reader.records().map(|r| r.expect("a row")).collect();
    let steps = rows.iter().filter(|r| &r[0] == "hole").count();
    let want: usize = design
        .plates
        .iter()
        .flat_map(|p| &p.features)
        .map(|f| match &f.shape {
            crate::design::Shape::Hole(h) => h.steps.len(),
            _ => 0,
        })
        .sum();
    assert_eq!(steps, want);
    let reamed = rows
        .iter()
        .find(|r| &r[3] == "A8" && &r[2] == "2")
        .expect("the reamed step");
    assert_eq!((&reamed[6], &reamed[7]), ("-108", "65"));
    assert_eq!((&reamed[11], &reamed[12]), ("6", "6.012"));
    assert!(rows.iter().any(|r| &r[0] == "finding warn"));
}
