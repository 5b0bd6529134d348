//! Products, units, colours and the assembly structure.

use super::Item;
use super::entities::{Entities, real, text};
use super::shape::{placement, solid};
use crate::solid::surface::{Point3, Vector3};

/// Points closer than this, mm, are one point to a reader.
const UNCERTAINTY: &str = "1.E-06";

/// Entities shared by all products of a file.
pub(super) struct Context {
    /// Product context.
    product: usize,
    /// Product definition context.
    definition: usize,
    /// Units and uncertainty.
    geometry: usize,
    /// The common origin.
    origin: usize,
}

/// A product with its shape.
struct Product {
    definition: usize,
    representation: usize,
}

/// Application, units, origin.
pub(super) fn context(e: &mut Entities) -> Context {
    let app = e.add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')");
    e.add(&format!(
        "APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,#{app})"
    ));
    let product = e.add(&format!("PRODUCT_CONTEXT('',#{app},'mechanical')"));
    let definition = e.add(&format!(
        "PRODUCT_DEFINITION_CONTEXT('part definition',#{app},'design')"
    ));
    let mm = e.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))");
    let rad = e.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))");
    let sr = e.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())");
    let near = e.add(&format!(
        "UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({UNCERTAINTY}),#{mm},\
         'distance_accuracy_value','confusion accuracy')"
    ));
    let geometry = e.add(&format!(
        "(GEOMETRIC_REPRESENTATION_CONTEXT(3)\
         GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{near}))\
         GLOBAL_UNIT_ASSIGNED_CONTEXT((#{mm},#{rad},#{sr}))\
         REPRESENTATION_CONTEXT('',''))"
    ));
    let origin = placement(e, &Point3::origin(), &Vector3::z(), &Vector3::x());
    Context {
        product,
        definition,
        geometry,
        origin,
    }
}

/// A product whose shape has these items.
fn product(e: &mut Entities, c: &Context, name: &str, title: &str, shape: &str) -> Product {
    let p = e.add(&format!(
        "PRODUCT({},{},'',(#{}))",
        text(name),
        text(title),
        c.product
    ));
    e.add(&format!(
        "PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{p}))"
    ));
    let formation = e.add(&format!("PRODUCT_DEFINITION_FORMATION('','',#{p})"));
    let definition = e.add(&format!(
        "PRODUCT_DEFINITION('design','',#{formation},#{})",
        c.definition
    ));
    let whole = e.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{definition})"));
    let representation = e.add(shape);
    e.add(&format!(
        "SHAPE_DEFINITION_REPRESENTATION(#{whole},#{representation})"
    ));
    Product {
        definition,
        representation,
    }
}

/// One part with its coloured solid.
fn solid_product(
    e: &mut Entities,
    c: &Context,
    item: &Item<'_>,
    styles: &mut Vec<usize>,
) -> Product {
    let body = solid(e, &text(item.name), item.solid);
    let [r, g, b] = item.colour.map(|x| real(x.clamp(0.0, 1.0)));
    let colour = e.share(format!("COLOUR_RGB('',{r},{g},{b})"));
    let fill = e.share(format!("FILL_AREA_STYLE_COLOUR('',#{colour})"));
    let area = e.share(format!("FILL_AREA_STYLE('',(#{fill}))"));
    let area = e.share(format!("SURFACE_STYLE_FILL_AREA(#{area})"));
    let side = e.share(format!("SURFACE_SIDE_STYLE('',(#{area}))"));
    let usage = e.share(format!("SURFACE_STYLE_USAGE(.BOTH.,#{side})"));
    let style = e.share(format!("PRESENTATION_STYLE_ASSIGNMENT((#{usage}))"));
    styles.push(e.add(&format!("STYLED_ITEM('color',(#{style}),#{body})")));
    let shape = format!(
        "ADVANCED_BREP_SHAPE_REPRESENTATION({},(#{},#{body}),#{})",
        text(item.name),
        c.origin,
        c.geometry
    );
    product(e, c, item.name, item.title, &shape)
}

fn present(e: &mut Entities, c: &Context, styles: &[usize]) {
    e.add(&format!(
        "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',{},#{})",
        super::entities::list(styles),
        c.geometry
    ));
}

/// A file's only part.
pub(super) fn part(e: &mut Entities, c: &Context, item: &Item<'_>) {
    let mut styles = Vec::new();
    solid_product(e, c, item, &mut styles);
    present(e, c, &styles);
}

/// An assembly of parts, each in place as it is.
pub(super) fn assembly(e: &mut Entities, c: &Context, name: &str, title: &str, items: &[Item<'_>]) {
    let mut styles = Vec::new();
    let parts: Vec<Product> = items
        .iter()
        .map(|i| solid_product(e, c, i, &mut styles))
        .collect();
    // One placement per part, apart from the origin itself.
    let places: Vec<usize> = parts
        .iter()
        .map(|_| {
            let p = e.add("CARTESIAN_POINT('',(0.,0.,0.))");
            let z = e.add("DIRECTION('',(0.,0.,1.))");
            let x = e.add("DIRECTION('',(1.,0.,0.))");
            e.add(&format!("AXIS2_PLACEMENT_3D('',#{p},#{z},#{x})"))
        })
        .collect();
    let mut all = vec![c.origin];
    all.extend(&places);
    let shape = format!(
        "SHAPE_REPRESENTATION({},{},#{})",
        text(name),
        super::entities::list(&all),
        c.geometry
    );
    let whole = product(e, c, name, title, &shape);
    for ((part, place), item) in parts.iter().zip(&places).zip(items) {
        let label = text(item.name);
        let usage = e.add(&format!(
            "NEXT_ASSEMBLY_USAGE_OCCURRENCE({label},{label},'',#{},#{},$)",
            whole.definition, part.definition
        ));
        let shape = e.add(&format!("PRODUCT_DEFINITION_SHAPE('','',#{usage})"));
        let shift = e.add(&format!(
            "ITEM_DEFINED_TRANSFORMATION('','',#{},#{place})",
            c.origin
        ));
        let relation = e.add(&format!(
            "(REPRESENTATION_RELATIONSHIP('','',#{},#{})\
             REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{shift})\
             SHAPE_REPRESENTATION_RELATIONSHIP())",
            part.representation, whole.representation
        ));
        e.add(&format!(
            "CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{relation},#{shape})"
        ));
    }
    present(e, c, &styles);
}
