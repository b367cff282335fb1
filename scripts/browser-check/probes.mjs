// What only a browser can tell of a page: each probe counts what it checked.
import { createRequire } from 'node:module';
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

export const work = resolve(process.argv[2]);
const require = createRequire(join(work, 'package.json'));
export const { chromium } = require('playwright-core');
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
// It says that it cannot paint without a canvas; words are all that is asked of it.
const { log, warn } = console;
console.log = console.warn = () => {};
const pdfjs = await import(pathToFileURL(require.resolve('pdfjs-dist/legacy/build/pdf.mjs')));
Object.assign(console, { log, warn });

export const shots = join(work, 'shots');

export const tally = { passed: 0, failures: [] };
export function check(what, fine, detail = '') {
  if (fine) tally.passed += 1;
  else {
    tally.failures.push(`${what}${detail ? `: ${detail}` : ''}`);
    console.error(`FAILED  ${tally.failures.at(-1)}`);
  }
}

export function htmlFiles(dir) {
  return readdirSync(dir, { withFileTypes: true }).flatMap((entry) => {
    const path = join(dir, entry.name);
    if (entry.isDirectory()) return htmlFiles(path);
    return entry.name.endsWith('.html') ? [path] : [];
  });
}

/** Opens a page and keeps whatever it complains about or asks for. */
export async function open(browser, file, { width, scheme = 'light', script = true }) {
  const context = await browser.newContext({
    viewport: { width, height: 900 },
    colorScheme: scheme,
    javaScriptEnabled: script,
    reducedMotion: 'reduce',
  });
  const page = await context.newPage();
  const said = [];
  const asked = [];
  page.on('console', (m) => ['error', 'warning'].includes(m.type()) && said.push(m.text()));
  page.on('pageerror', (e) => said.push(String(e)));
  page.on('dialog', (d) => {
    said.push(`dialog: ${d.message()}`);
    d.dismiss();
  });
  page.on('request', (r) => asked.push(r.url()));
  page.on('requestfailed', (r) => said.push(`failed: ${r.url()}`));
  await page.goto(pathToFileURL(file).href, { waitUntil: 'load' });
  return { context, page, said, asked };
}

/** Whatever is folded is unfolded: hidden things have no size. */
export const unfold = (page) =>
  page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));

/** Figures without a drawing inside the window, and what sticks out of it. */
export const layout = (page) =>
  page.evaluate(() => {
    const room = document.documentElement.clientWidth;
    const broken = [];
    for (const figure of document.querySelectorAll('figure')) {
      if (figure.querySelector('.nothing')) continue;
      const boxes = [...figure.querySelectorAll('svg')]
        .map((svg) => svg.getBoundingClientRect())
        .filter((box) => box.width > 0 && box.height > 0);
      const fine = boxes.some(
        (b) => b.width >= 200 && b.height >= 60 && b.left >= 0 && b.right <= room + 1,
      );
      if (!fine) broken.push(figure.id || figure.outerHTML.slice(0, 80));
    }
    return {
      figures: document.querySelectorAll('figure').length,
      broken,
      overflow: document.documentElement.scrollWidth - room,
    };
  });

const idsOf = new Map();
async function idsIn(browser, file) {
  if (!idsOf.has(file)) {
    const { context, page } = await open(browser, file, { width: 1280, script: false });
    idsOf.set(file, new Set(await page.$$eval('[id]', (all) => all.map((e) => e.id))));
    await context.close();
  }
  return idsOf.get(file);
}

export async function links(browser, page, name) {
  const hrefs = await page.$$eval('a[href], link[href]', (all) => all.map((a) => a.href));
  const broken = [];
  for (const href of new Set(hrefs)) {
    if (!href.startsWith('file:')) {
      broken.push(href);
      continue;
    }
    const url = new URL(href);
    const anchor = decodeURIComponent(url.hash.slice(1));
    url.hash = '';
    const file = fileURLToPath(url);
    if (!existsSync(file) || statSync(file).isDirectory()) broken.push(href);
    else if (anchor && file.endsWith('.html') && !(await idsIn(browser, file)).has(anchor))
      broken.push(href);
  }
  check(`${name}: ${hrefs.length} links resolve`, broken.length === 0, broken.slice(0, 5).join(' '));
}

export async function accessible(page, name) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() =>
    // eslint-disable-next-line no-undef
    axe.run(document, { resultTypes: ['violations'], preload: false }),
  );
  const grave = violations.filter((v) => ['serious', 'critical'].includes(v.impact));
  check(
    `${name}: no serious violation of accessibility rules`,
    grave.length === 0,
    grave.map((v) => `${v.id} (${v.nodes.length}): ${v.nodes[0].html.slice(0, 160)}`).join('; '),
  );
}

/** All numbers that a report's findings.json holds, and the file beside a page of it, ascending. */
export function numbersOf(report, page) {
  const found = new Set();
  const walk = (value) => {
    if (typeof value === 'number') found.add(value);
    else if (value && typeof value === 'object') Object.values(value).forEach(walk);
  };
  const own = page.replace(/\.html$/, '.json');
  for (const file of [join(work, report, 'findings.json'), own].filter(existsSync)) {
    walk(JSON.parse(readFileSync(file, 'utf8')));
  }
  return Float64Array.from(found).sort();
}

export async function pdf(browser, file, name, [least, most]) {
  const { context, page } = await open(browser, file, { width: 1280 });
  const bytes = await page.pdf({ preferCSSPageSize: true });
  await context.close();
  writeFileSync(join(shots, `${name.replaceAll('/', '-')}.pdf`), bytes);
  const doc = await pdfjs.getDocument({
    data: new Uint8Array(bytes),
    verbosity: 0,
    isEvalSupported: false,
  }).promise;
  const blank = [];
  for (let n = 1; n <= doc.numPages; n += 1) {
    const { items } = await (await doc.getPage(n)).getTextContent();
    if (items.map((i) => i.str).join('').trim().length < 20) blank.push(n);
  }
  const count = doc.numPages;
  await doc.destroy();
  check(`${name}: prints on ${least} to ${most} pages`, count >= least && count <= most, `${count}`);
  check(`${name}: no blank page in print`, blank.length === 0, `pages ${blank.join(', ')}`);
  return count;
}
