//! `view!`, as the screens write it: the framework's own macro makes a type of its own of nearly every element,
//! and every type brings its own copy of what builds, changes and takes it away. This one writes the same
//! screens as calls of one kind of element (`app/src/view.rs`), which is a third of the bytes on a phone.

use proc_macro2::{Ident, Span, TokenStream};
use quote::{ToTokens, quote, quote_spanned};
use rstml::node::{
    Infallible, KeyedAttribute, KeyedAttributeValue, Node, NodeAttribute, NodeBlock, NodeElement,
};
use syn::spanned::Spanned;
use syn::{Expr, ExprLit, Lit};

#[cfg(test)]
mod tests;

/// Between the tag and its fixed attributes, and between these. No attribute holds it.
const APART: char = '\u{1f}';

/// Elements that have no end and no children.
const VOID: [&str; 7] = ["br", "hr", "img", "input", "link", "meta", "wbr"];

/// Elements of drawings, which are made in a name space of their own.
const DRAWN: [&str; 14] = [
    "svg", "g", "path", "rect", "line", "circle", "ellipse", "polyline", "polygon", "text",
    "tspan", "defs", "pattern", "use",
];

/// Writes elements, components, text and `{expressions}` as one view.
///
/// Of attributes it knows plain ones, `class:name`, `prop:name`, `on:event`, `bind:value`, `inner_html` (from the
/// app's own drawings alone) and `node_ref`; each takes a value, a signal or a closure that is asked again when its
/// signals change. A `class=` that changes by itself takes what `class:name` has set away.
#[proc_macro]
pub fn view(tokens: proc_macro::TokenStream) -> proc_macro::TokenStream {
    written(tokens.into()).into()
}

fn written(tokens: TokenStream) -> TokenStream {
    let nodes = rstml::parse2(tokens);
    nodes
        .and_then(|nodes| several(&nodes))
        .unwrap_or_else(|error| {
            let error = error.into_compile_error();
            quote!({ #error })
        })
}

fn refused<T>(what: &impl Spanned, why: &str) -> syn::Result<T> {
    Err(syn::Error::new(what.span(), why))
}

/// The nodes as one view.
fn several(nodes: &[Node]) -> syn::Result<TokenStream> {
    let mut views = Vec::new();
    for node in nodes {
        views.extend(one(node)?);
    }
    Ok(match views.as_slice() {
        [] => quote!(crate::view::nothing()),
        [view] => view.clone(),
        views => quote!(crate::view::several(::std::vec![#(#views),*])),
    })
}

/// One node as a view; nothing for a comment.
fn one(node: &Node<Infallible>) -> syn::Result<Option<TokenStream>> {
    if let Some(html) = fixed(node) {
        return Ok(Some(quote!(crate::view::fixed(#html))));
    }
    Ok(Some(match node {
        Node::Comment(_) => return Ok(None),
        Node::Text(text) => {
            let text = &text.value;
            quote!(crate::view::text(#text))
        }
        Node::Block(NodeBlock::ValidBlock(block)) => {
            quote_spanned!(block.span()=> crate::view::Drawn::drawn(#[allow(unused_braces)] #block))
        }
        Node::Fragment(fragment) => several(&fragment.children)?,
        Node::Element(element) if is_component(element) => component(element)?,
        Node::Element(element) => plain(element)?,
        Node::RawText(text) => return refused(text, "text stands in quotation marks"),
        other => return refused(other, "view! does not know this"),
    }))
}

/// The attributes of an element, each with a name of its own.
fn named(element: &NodeElement<Infallible>) -> syn::Result<Vec<&KeyedAttribute>> {
    let mut named: Vec<&KeyedAttribute> = Vec::new();
    for attribute in element.attributes() {
        let NodeAttribute::Attribute(attribute) = attribute else {
            return refused(attribute, "view! spreads no attributes");
        };
        if named.iter().any(|other| key(other) == key(attribute)) {
            return refused(attribute, "this attribute stands here already");
        }
        named.push(attribute);
    }
    Ok(named)
}

fn is_component(element: &NodeElement<Infallible>) -> bool {
    let name = element.name().to_string();
    let last = name.rsplit("::").next().unwrap_or_default().trim();
    last.starts_with(|c: char| c.is_ascii_uppercase())
}

fn key(attribute: &KeyedAttribute) -> String {
    let key = attribute.key.to_string().replace(' ', "");
    key.strip_prefix("r#").map_or(key.clone(), str::to_owned)
}

/// The words of a text that stands in the source.
fn literal(value: &Expr) -> Option<String> {
    match value {
        Expr::Lit(ExprLit {
            lit: Lit::Str(text),
            ..
        }) => Some(text.value()),
        _ => None,
    }
}

/// An attribute that never changes: its name and value.
fn fixed_attribute(attribute: &KeyedAttribute) -> Option<(String, String)> {
    let name = key(attribute);
    if name.contains(':') || name == "node_ref" || name == "inner_html" {
        return None;
    }
    match &attribute.possible_value {
        KeyedAttributeValue::None => Some((name, String::new())),
        _ => Some((name, literal(attribute.value()?)?)),
    }
}

/// The HTML of an element in which nothing ever changes, and which holds something.
fn fixed(node: &Node<Infallible>) -> Option<String> {
    let Node::Element(element) = node else {
        return None;
    };
    let mut html = String::new();
    (!element.children.is_empty() && write_fixed(element, &mut html)).then_some(html)
}

fn write_fixed(element: &NodeElement<Infallible>, html: &mut String) -> bool {
    let (Ok(tag), Ok(attributes)) = (tag(element), named(element)) else {
        return false;
    };
    if is_component(element) || DRAWN.contains(&tag.as_str()) {
        return false;
    }
    html.push('<');
    html.push_str(&tag);
    for attribute in attributes {
        let Some((name, value)) = fixed_attribute(attribute) else {
            return false;
        };
        let value = value.replace('&', "&amp;").replace('"', "&quot;");
        html.push_str(&format!(" {name}=\"{value}\""));
    }
    html.push('>');
    for child in &element.children {
        match child {
            Node::Text(text) => {
                let text = text.value_string();
                html.push_str(&text.replace('&', "&amp;").replace('<', "&lt;"));
            }
            Node::Element(child) => {
                if !write_fixed(child, html) {
                    return false;
                }
            }
            Node::Comment(_) => {}
            _ => return false,
        }
    }
    if !VOID.contains(&tag.as_str()) {
        html.push_str(&format!("</{tag}>"));
    }
    true
}

/// The tag of an element of the page.
fn tag(element: &NodeElement<Infallible>) -> syn::Result<String> {
    let tag = element.name().to_string();
    if !tag.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
        return refused(element.name(), "this is no tag");
    }
    Ok(tag)
}

/// An element of the page.
fn plain(element: &NodeElement<Infallible>) -> syn::Result<TokenStream> {
    let tag = tag(element)?;
    // What never changes stands in one text: the tag, then names and values.
    let mut spec = String::new();
    let drawn = DRAWN.contains(&tag.as_str());
    if drawn {
        spec.push('~');
    }
    spec.push_str(&tag);
    // An attribute `class` takes classes away that were set before it.
    let (mut calls, mut classes) = (Vec::new(), Vec::new());
    // A name that no name of the screen can be taken for.
    let made = Ident::new("made", Span::mixed_site());
    for attribute in named(element)? {
        if let Some((name, value)) = fixed_attribute(attribute) {
            spec.push(APART);
            spec.push_str(&name);
            spec.push(APART);
            spec.push_str(&value);
            continue;
        }
        let name = key(attribute);
        let Some(value) = attribute.value() else {
            return refused(attribute, "this attribute needs a value");
        };
        let span = value.span();
        calls.push(match name.split_once(':') {
            None if name == "node_ref" => quote_spanned!(span=> #made.reference(#value);),
            None if name == "inner_html" && !element.children.is_empty() => {
                return refused(attribute, "inner_html would take the children away");
            }
            None if name == "inner_html" => {
                quote_spanned!(span=> #made.property("innerHTML", #value);)
            }
            None => quote_spanned!(span=> #made.attribute(#name, #value);),
            Some(("class", name)) => {
                classes.push(quote_spanned!(span=> #made.class(#name, #value);));
                continue;
            }
            Some(("prop", name)) => quote_spanned!(span=> #made.property(#name, #value);),
            Some(("bind", "value")) => quote_spanned!(span=> #made.bind_value(#value);),
            Some(("on", event)) => {
                let Ok(mut event) = syn::parse_str::<Ident>(event) else {
                    return refused(&attribute.key, "`on:` takes the name of an event");
                };
                event.set_span(attribute.key.span());
                quote_spanned!(span=> #made.on(::leptos::ev::#event, #value);)
            }
            Some(_) => return refused(attribute, "view! does not know this attribute"),
        });
    }
    calls.append(&mut classes);
    for child in &element.children {
        calls.push(match child {
            // It would be made as an element of the page, and not be seen.
            Node::Element(part)
                if drawn
                    && !is_component(part)
                    && !DRAWN.contains(&part.name().to_string().as_str()) =>
            {
                return refused(part.name(), "view! does not know this part of a drawing");
            }
            Node::Comment(_) => continue,
            Node::Text(text) => {
                let text = &text.value;
                quote!(#made.text(#text);)
            }
            child => {
                let view = one(child)?;
                quote!(#made.child(#view);)
            }
        });
    }
    Ok(quote!({
        let mut #made = crate::view::Element::new(#spec);
        #(#calls)*
        #made.done()
    }))
}

/// `<Show when fallback>`: its children while the condition holds, else the fallback.
fn show(element: &NodeElement<Infallible>) -> syn::Result<TokenStream> {
    let (mut when, mut fallback) = (None, quote!(::core::option::Option::None));
    for attribute in named(element)? {
        match (key(attribute).as_str(), attribute.value()) {
            ("when", Some(value)) => when = Some(value),
            ("fallback", Some(value)) => {
                fallback = quote!(::core::option::Option::Some(::std::boxed::Box::new(#value)))
            }
            _ => return refused(attribute, "Show knows `when=` and `fallback=`"),
        }
    }
    let Some(when) = when else {
        return refused(element.name(), "Show needs `when=`");
    };
    let children = several(&element.children)?;
    Ok(
        quote!(crate::view::show(::std::boxed::Box::new(#when), ::std::boxed::Box::new(move || #children), #fallback)),
    )
}

/// A component, called as the framework has it.
fn component(element: &NodeElement<Infallible>) -> syn::Result<TokenStream> {
    let name = element.name();
    if name.to_string() == "Show" {
        return show(element);
    }
    let (mut given, mut bound) = (Vec::new(), Vec::new());
    for attribute in named(element)? {
        if let KeyedAttributeValue::Binding(binding) = &attribute.possible_value
            && key(attribute) == "let"
        {
            bound.push(binding.inputs.clone());
            continue;
        }
        let span = attribute.span();
        let Ok(name) = syn::parse2::<Ident>(attribute.key.to_token_stream()) else {
            return refused(attribute, "a component takes `name`, `name=` and `let()`");
        };
        given.push(match (&attribute.possible_value, attribute.value()) {
            (KeyedAttributeValue::None, _) => quote_spanned!(span=> .#name(#name)),
            (_, Some(value)) => quote_spanned!(span=> .#name(#[allow(unused_braces)] { #value })),
            _ => return refused(attribute, "a component takes `name`, `name=` and `let()`"),
        });
    }
    if !element.children.is_empty() {
        let children = several(&element.children)?;
        given.push(match bound.as_slice() {
            [] => quote!(.children(::leptos::children::ToChildren::to_children(move || #children))),
            bound => quote!(.children(move |#(#bound),*| #children)),
        });
    }
    let generics = &element.open_tag.generics;
    let generics = generics.lt_token.map(|_| quote!(::#generics));
    let span = name.span();
    Ok(
        quote_spanned!(span=> crate::view::any(::leptos::component::component_view(
            #name,
            ::leptos::component::component_props_builder(&#name #generics) #(#given)* .build()
        ))),
    )
}
