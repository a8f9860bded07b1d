//! Takes and readings from and to JavaScript. Samples and curves cross as typed arrays, never as JSON.

use super::shapes::{Read, Write};
use super::tree::Tree;
use super::wire::{self, CoreFault};
use super::writer::tree_of;
use crate::signal::reading::{Curve, Reading};
use crate::signal::take::Take;
use js_sys::{Array, Float32Array, Float64Array, Object, Reflect, JSON};
use serde::de::DeserializeOwned;
use serde::Serialize;
use std::collections::BTreeMap;
use wasm_bindgen::{JsCast, JsValue};

/// Any serde value as plain objects, as `JSON.parse` would give them.
pub fn to_js(value: &impl Serialize) -> Result<JsValue, JsValue> {
    plain(&tree_of(value).map_err(thrown)?)
}

/// As [`to_js`] for a type that `write_types` names.
pub fn write_js(value: &dyn Write) -> Result<JsValue, JsValue> {
    plain(&value.write())
}

fn plain(tree: &Tree) -> Result<JsValue, JsValue> {
    Ok(match tree {
        Tree::Null => JsValue::NULL,
        Tree::Bool(value) => JsValue::from_bool(*value),
        Tree::Number(value) => JsValue::from_f64(*value),
        Tree::Text(text) => JsValue::from_str(text),
        Tree::List(items) => {
            let list = Array::new();
            for item in items {
                list.push(&plain(item)?);
            }
            list.into()
        }
        Tree::Object(fields) => {
            let object = Object::new();
            for (name, value) in fields {
                Reflect::set(&object, &JsValue::from_str(name), &plain(value)?)?;
            }
            object.into()
        }
    })
}

/// As [`from_js`] for a type that `read_types` names.
pub fn read_js<T: Read>(value: &JsValue) -> Result<T, JsValue> {
    wire::parse_named(&text_of(value)).map_err(thrown)
}

fn text_of(value: &JsValue) -> String {
    JSON::stringify(value).ok().and_then(|text| text.as_string()).unwrap_or_default()
}

/// A small request. It goes through JSON text, as the setups do.
pub fn from_js<T: DeserializeOwned>(value: &JsValue) -> Result<T, JsValue> {
    wire::parse_plain(&text_of(value)).map_err(thrown)
}

/// A fault as the object that is thrown.
pub fn thrown(fault: impl Into<CoreFault>) -> JsValue {
    let fault = fault.into();
    write_js(&fault).unwrap_or_else(|_| JsValue::from_str(&fault.message))
}

/// A take from `{rateHz, channels: Float32Array[]}`.
pub fn take_from_js(value: &JsValue) -> Result<Take, JsValue> {
    let wrong =
        |what: &str| thrown(CoreFault::new("take", format!("a take is {{rateHz, channels: Float32Array[]}}: {what}")));
    let rate_hz = get(value, "rateHz").as_f64().ok_or_else(|| wrong("rateHz is no number"))?;
    let list = get(value, "channels").dyn_into::<Array>().map_err(|_| wrong("channels is no list"))?;
    let mut channels = Vec::with_capacity(list.length() as usize);
    for channel in list.iter() {
        let samples: Float32Array = channel.dyn_into().map_err(|_| wrong("a channel is no Float32Array"))?;
        channels.push(samples.to_vec().into_iter().map(f64::from).collect());
    }
    Take::new(rate_hz, channels).map_err(thrown)
}

/// Takes from a list of them.
pub fn takes_from_js(value: &JsValue) -> Result<Vec<Take>, JsValue> {
    let list = value.dyn_ref::<Array>().ok_or_else(|| thrown(CoreFault::new("take", "takes are given as a list")))?;
    list.iter().map(|take| take_from_js(&take)).collect()
}

/// A take for the page: samples as 32-bit floats, which hold every 24-bit sample exactly.
pub fn take_to_js(take: &Take) -> Result<JsValue, JsValue> {
    let channels = Array::new();
    for samples in take.channels() {
        channels.push(&single(samples));
    }
    object(&[("rateHz", &take.rate_hz().into()), ("channels", &channels)])
}

/// Samples as 32-bit floats.
#[allow(clippy::cast_possible_truncation)] // the page's audio is 32 bit
pub fn single(samples: &[f64]) -> Float32Array {
    Float32Array::from(samples.iter().map(|&s| s as f32).collect::<Vec<_>>().as_slice())
}

/// A reading, its curves as typed arrays.
pub fn reading_to_js(mut reading: Reading) -> Result<JsValue, JsValue> {
    let curves = std::mem::take(&mut reading.curves);
    let value = write_js(&reading)?;
    Reflect::set(&value, &"curves".into(), &curves_to_js(&curves)?)?;
    Ok(value)
}

fn curves_to_js(curves: &BTreeMap<String, Curve>) -> Result<JsValue, JsValue> {
    let all = Object::new();
    for (name, columns) in curves {
        let curve = Object::new();
        for (column, values) in columns {
            Reflect::set(&curve, &column.into(), &Float64Array::from(values.as_slice()))?;
        }
        Reflect::set(&all, &name.into(), &curve)?;
    }
    Ok(all.into())
}

/// An object of the given fields.
pub fn object(fields: &[(&str, &JsValue)]) -> Result<JsValue, JsValue> {
    let object = Object::new();
    for (name, value) in fields {
        Reflect::set(&object, &(*name).into(), value)?;
    }
    Ok(object.into())
}

fn get(value: &JsValue, name: &str) -> JsValue {
    Reflect::get(value, &name.into()).unwrap_or(JsValue::UNDEFINED)
}
