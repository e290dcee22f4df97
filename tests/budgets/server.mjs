// A static server that counts what is fetched, and speaks brotli as the web does.
import { createServer } from 'node:http';
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { extname, join, normalize } from 'node:path';
import { brotliCompressSync, constants } from 'node:zlib';

const KINDS = {
  '.html': 'text/html', '.js': 'text/javascript', '.css': 'text/css', '.wasm': 'application/wasm',
  '.svg': 'image/svg+xml', '.json': 'application/json', '.webmanifest': 'application/manifest+json', '.png': 'image/png',
};

const packed = new Map();
export function brotli(bytes) {
  return brotliCompressSync(bytes, { params: {
    [constants.BROTLI_PARAM_QUALITY]: 11,
    [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length,
  } });
}
function packedFile(path) {
  const stamp = `${path} ${statSync(path).mtimeMs}`;
  if (!packed.has(stamp)) packed.set(stamp, brotli(readFileSync(path)));
  return packed.get(stamp);
}

/** Serves a folder, and beside it pages of the benchmark's own; answers with its address and what was asked for. */
export function serve(folder, pages = {}) {
  const asked = new Set();
  // Packed before anything is timed.
  for (const file of readdirSync(folder, { recursive: true })) if (statSync(join(folder, file)).isFile()) packedFile(join(folder, file));
  const server = createServer((request, response) => {
    const path = decodeURIComponent(new URL(request.url, 'http://x').pathname);
    const head = {
      // So that the browser tells how much memory the page uses.
      'cross-origin-opener-policy': 'same-origin', 'cross-origin-embedder-policy': 'require-corp',
      'cache-control': 'no-cache',
    };
    if (pages[path]) {
      response.writeHead(200, { ...head, 'content-type': 'text/html; charset=utf-8' });
      response.end(pages[path]);
      return;
    }
    const file = normalize(path).replace(/^\/+/, '') || 'index.html';
    try {
      const bytes = packedFile(join(folder, file));
      asked.add(file);
      response.writeHead(200, { ...head, 'content-type': KINDS[extname(file)] ?? 'application/octet-stream',
        'content-encoding': 'br', 'content-length': bytes.length });
      response.end(bytes);
    } catch {
      response.writeHead(404, head);
      response.end();
    }
  });
  return new Promise((resolve) => server.listen(0, '127.0.0.1', () => resolve({
    url: `http://127.0.0.1:${server.address().port}/`, asked, stop: () => server.close(),
  })));
}
