//! As much of JSON Schema as the schema of the pattern uses. A word it does not know is a fault, so
//! that none is passed over.

use serde_json::Value;

/// What of a value is not as the schema has it: the first fault, with its place.
pub fn check(schema: &Value, value: &Value) -> Result<(), String> {
    holds(schema, schema, value, &mut String::from("$"))
}

fn holds(root: &Value, schema: &Value, value: &Value, at: &mut String) -> Result<(), String> {
    let words = schema.as_object().ok_or_else(|| format!("{at}: no schema"))?;
    for (word, asked) in words {
        let good = match word.as_str() {
            "$schema"
            | "$defs"
            | "title"
            | "description"
            | "properties"
            | "additionalProperties" => true,
            "$ref" => {
                let path = asked.as_str().and_then(|path| path.strip_prefix('#'));
                let target = path.and_then(|path| root.pointer(path));
                holds(root, target.ok_or_else(|| format!("{at}: {asked}?"))?, value, at)?;
                true
            }
            "type" => is_a(asked, value),
            "const" => asked == value,
            "enum" => asked.as_array().is_some_and(|all| all.contains(value)),
            "minimum" => value.as_f64() >= asked.as_f64(),
            "minItems" => value.as_array().map(Vec::len) >= asked.as_u64().map(|n| n as usize),
            "maxItems" => value.as_array().map(Vec::len) <= asked.as_u64().map(|n| n as usize),
            "required" => {
                let keys = asked.as_array().into_iter().flatten().filter_map(Value::as_str);
                keys.into_iter().all(|key| value.get(key).is_some())
            }
            "items" => {
                for (nth, item) in value.as_array().into_iter().flatten().enumerate() {
                    within(at, &nth.to_string(), |at| holds(root, asked, item, at))?;
                }
                true
            }
            "anyOf" | "oneOf" => one_of(root, asked, value, at, word == "oneOf")?,
            other => return Err(format!("the schema says {other}, which is not looked at")),
        };
        if !good {
            let shown: String = value.to_string().chars().take(200).collect();
            return Err(format!("{at}: {word} {asked} does not hold of {shown}"));
        }
    }
    keys(root, schema, value, at)
}

fn keys(root: &Value, schema: &Value, value: &Value, at: &mut String) -> Result<(), String> {
    let open = Value::Bool(true);
    let other = schema.get("additionalProperties").unwrap_or(&open);
    for (key, own) in value.as_object().into_iter().flatten() {
        match (&schema["properties"][key], other) {
            (Value::Null, Value::Bool(true)) => {}
            (Value::Null, Value::Bool(false)) => return Err(format!("{at}: no key {key}")),
            (Value::Null, other) => within(at, key, |at| holds(root, other, own, at))?,
            (asked, _) => within(at, key, |at| holds(root, asked, own, at))?,
        }
    }
    Ok(())
}

fn one_of(
    root: &Value,
    all: &Value,
    value: &Value,
    at: &mut String,
    one: bool,
) -> Result<bool, String> {
    let (mut good, mut faults) = (0, Vec::new());
    for schema in all.as_array().into_iter().flatten() {
        // Of many kinds of step only the one of that name is looked into.
        let path = schema["$ref"].as_str().and_then(|path| path.strip_prefix('#'));
        let meant =
            path.and_then(|path| root.pointer(path)).map(|s| &s["properties"]["op"]["const"]);
        if meant.is_some_and(|op| !op.is_null() && value.get("op") != Some(op)) {
            continue;
        }
        match holds(root, schema, value, at) {
            Ok(()) => good += 1,
            Err(fault) => faults.push(fault),
        }
        if good > 0 && !one {
            break;
        }
    }
    match good {
        // The fault that lies deepest is that of the one that was meant.
        0 => Err(faults.into_iter().max_by_key(|f| f.matches('/').count()).unwrap_or_default()),
        good => Ok(!one || good == 1),
    }
}

fn within<T>(at: &mut String, key: &str, then: impl FnOnce(&mut String) -> T) -> T {
    let before = at.len();
    at.push('/');
    at.push_str(key);
    let done = then(at);
    at.truncate(before);
    done
}

fn is_a(kind: &Value, value: &Value) -> bool {
    match kind.as_str() {
        Some("object") => value.is_object(),
        Some("array") => value.is_array(),
        Some("string") => value.is_string(),
        Some("boolean") => value.is_boolean(),
        Some("integer") => value.is_u64() || value.is_i64(),
        Some("number") => value.is_number(),
        Some("null") => value.is_null(),
        _ => false,
    }
}
