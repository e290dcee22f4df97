// How much is loaded, and which part of the program how much of it is.
import { existsSync, readFileSync, readdirSync, statSync } from 'node:fs';
import { join, relative } from 'node:path';
import { gzipSync } from 'node:zlib';
import { brotli } from './server.mjs';

export function filesOf(folder, under = folder) {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? filesOf(path, under) : [relative(under, path)];
  });
}

export function sizeOf(path) {
  const bytes = readFileSync(path);
  return { raw: bytes.length, gzip: gzipSync(bytes, { level: 9 }).length, brotli: brotli(bytes).length };
}

/** The sizes of files of a folder, and their sums. */
export function sizes(folder, files) {
  const rows = files.map((file) => ({ file, ...sizeOf(join(folder, file)) })).sort((a, b) => b.brotli - a.brotli);
  const sum = (key) => rows.reduce((all, row) => all + row[key], 0);
  return { rows, total: { raw: sum('raw'), gzip: sum('gzip'), brotli: sum('brotli') } };
}

/** The bytes of code and data of a wasm with names, by crate and module, largest first. */
export function parts(path) {
  if (!existsSync(path)) return [];
  const bytes = readFileSync(path);
  let at = 8;
  const number = () => {
    let value = 0, shift = 1, byte;
    do { byte = bytes[at++]; value += (byte & 127) * shift; shift *= 128; } while (byte & 128);
    return value;
  };
  const text = () => { const length = number(); at += length; return bytes.toString('utf8', at - length, at); };
  const limits = () => { const flags = number(); number(); if (flags & 1) number(); };
  const names = new Map(), code = [], found = new Map();
  let imported = 0;
  const add = (part, size) => found.set(part, (found.get(part) ?? 0) + size);
  while (at < bytes.length) {
    const section = bytes[at++], length = number(), end = at + length;
    if (section === 2) {
      for (let left = number(); left > 0; left--) {
        text(); text();
        switch (bytes[at++]) {
          case 0: number(); imported++; break;
          case 1: at++; limits(); break;
          case 2: limits(); break;
          default: at += 2;
        }
      }
    } else if (section === 10) {
      for (let left = number(); left > 0; left--) { const size = number(); code.push(size); at += size; }
    } else if (section === 11) {
      add('data: words, tables', length);
    } else if (section === 0 && text() === 'name') {
      while (at < end) {
        const kind = bytes[at++], size = number(), next = at + size;
        if (kind === 1) for (let left = number(); left > 0; left--) { const index = number(); names.set(index, text()); }
        at = next;
      }
    }
    at = end;
  }
  code.forEach((size, index) => add(partOf(names.get(index + imported) ?? ''), size));
  return [...found].map(([part, size]) => ({ part, size })).sort((a, b) => b.size - a.size);
}

function partOf(name) {
  const own = name.match(/evenhand_(core|app)::(\w+)/);
  if (own) return `evenhand ${own[1]}: ${own[2]}`;
  const crate = name.match(/^[<&*]*(?:mut |dyn )?(\w+)/)?.[1] ?? 'no name';
  const families = {
    'views (leptos, tachys)': ['tachys', 'leptos', 'leptos_dom', 'T', 'F', 'A', 'C'],
    'signals (reactive_graph)': ['reactive_graph', 'any_spawner', 'indexmap', 'slotmap', 'or_poisoned'],
    'JSON (serde)': ['serde', 'serde_core', 'serde_json', 'zmij', 'itoa'],
    'standard library': ['core', 'alloc', 'std', 'hashbrown', 'dlmalloc', '__rustc', 'str', 'char', 'u64', 'i64', 'usize', 'f32', 'f64', 'i128', 'u128', 'u32', 'u8', 'i32', '__divti3', 'compiler_builtins', 'alloc_crate'],
    'browser glue': ['wasm_bindgen', 'wasm_bindgen_futures', 'js_sys', 'web_sys', 'indexed_db_futures', 'gloo_storage', 'tokio', 'futures_util', 'futures_channel', 'accessory'],
    'checksum (sha2)': ['sha2', 'digest', 'block_buffer'],
  };
  return Object.keys(families).find((family) => families[family].includes(crate)) ?? 'other';
}
