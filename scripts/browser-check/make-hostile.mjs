// Puts markup into every name, remark and title of a season: shown as written, it does no harm.
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

export const NASTY = `<script>alert(1)</script><img src=x onerror=alert(2)>"'&`;

const dir = process.argv[2];
const inToml = NASTY.replaceAll('"', '\\"');
const inCsv = NASTY.replaceAll('"', '""');

const toml = join(dir, 'season.toml');
writeFileSync(
  toml,
  readFileSync(toml, 'utf8').replace(/^(\s*(?:title|name) = ")/gm, `$1${inToml} `),
);
const logbook = join(dir, 'logbook.csv');
const lines = readFileSync(logbook, 'utf8').trimEnd().split('\n');
// The remark is the last of the cells; those of the demo hold no comma outside quotes before it.
const marked = lines.map((line, i) => (i === 0 ? line : line.replace(/,("[^"]*"|[^,]*)$/, `,"${inCsv}"`)));
writeFileSync(logbook, marked.join('\n') + '\n');
