use super::written;

fn made(source: &str) -> String {
    let tokens = source.parse().expect("tokens of Rust");
    written(tokens).to_string()
}

#[test]
fn what_never_changes_is_html_in_which_nothing_is_mistaken_for_markup() {
    let source =
        r#"<p title="\"a\" & b" hidden><i>"1 < 2 &amp; {3}"</i><br/><!-- "not this" --></p>"#;
    let html =
        r#"<p title=\"&quot;a&quot; &amp; b\" hidden=\"\"><i>1 &lt; 2 &amp;amp; {3}</i><br></p>"#;
    assert_eq!(made(source), format!("crate :: view :: fixed (\"{html}\")"));
}

#[test]
fn fixed_attributes_stand_with_the_tag_and_the_rest_is_called() {
    let source =
        r#"<a r#type="x" aria-label="to" data-x=1 class:out=out class=class on:click=go/>"#;
    let calls = [
        r#"Element :: new ("a\u{1f}type\u{1f}x\u{1f}aria-label\u{1f}to")"#,
        r#"attribute ("data-x" , 1)"#,
        // After the attribute, which would take the class away.
        r#"attribute ("class" , class)"#,
        "on (:: leptos :: ev :: click , go)",
        r#"class ("out" , out)"#,
        "done ()",
    ];
    let made = made(source);
    let places: Vec<_> = calls.iter().map(|call| made.find(call)).collect();
    assert!(
        places.iter().all(Option::is_some) && places.is_sorted(),
        "{places:?} in {made}"
    );
}

#[test]
fn a_component_is_given_names_bindings_and_children() {
    let made = made(r#"<For each=rows key=|r| r.id let(row)><Row row/></For>"#);
    for call in [
        ". each ({ rows })",
        ". children (move | row |",
        ". row (row)",
    ] {
        let call = call.replace("({", "(# [allow (unused_braces)] {");
        assert!(made.contains(&call), "no {call} in {made}");
    }
}

#[test]
fn what_it_does_not_know_is_refused_and_never_left_out() {
    let refused = [
        ("<p {..all}/>", "view! spreads no attributes"),
        ("<Row {..all}/>", "view! spreads no attributes"),
        ("<p>Words</p>", "text stands in quotation marks"),
        ("<!DOCTYPE html>", "view! does not know this"),
        ("<{tag}/>", "this is no tag"),
        (
            "<svg><title/></svg>",
            "view! does not know this part of a drawing",
        ),
        ("<p style:width=w/>", "view! does not know this attribute"),
        ("<p bind:checked=c/>", "view! does not know this attribute"),
        ("<p attr:title=t/>", "view! does not know this attribute"),
        (
            "<p class=\"a\" class=b/>",
            "this attribute stands here already",
        ),
        ("<p class:out/>", "this attribute needs a value"),
        ("<p node_ref/>", "this attribute needs a value"),
        ("<p let(x)/>", "this attribute needs a value"),
        (
            "<p on:click:capture=go/>",
            "`on:` takes the name of an event",
        ),
        (
            "<p inner_html=html>\"a\"</p>",
            "inner_html would take the children away",
        ),
        (
            "<Row on:click=go/>",
            "a component takes `name`, `name=` and `let()`",
        ),
        (
            "<Row class:out=out/>",
            "a component takes `name`, `name=` and `let()`",
        ),
        (
            "<For let:row/>",
            "a component takes `name`, `name=` and `let()`",
        ),
        (
            "<For each(row)/>",
            "a component takes `name`, `name=` and `let()`",
        ),
        ("<Show fallback=f/>", "Show needs `when=`"),
        ("<Show when/>", "Show knows `when=` and `fallback=`"),
        (
            "<Show when=w let(x)/>",
            "Show knows `when=` and `fallback=`",
        ),
    ];
    for (source, why) in refused {
        let made = made(source);
        assert!(
            made.contains(&format!("compile_error ! {{ \"{why}\" }}")),
            "{source}: {made}"
        );
    }
}
