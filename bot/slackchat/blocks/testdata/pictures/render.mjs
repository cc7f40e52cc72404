// Draws pictures of what the bot shows, at the width of a phone:
//
//   node render.mjs PICTURES.json DIR
//
// PICTURES.json is a list of {name, messages: [{from, time, text | blocks}]} or
// {name, view}; each becomes DIR/NAME.png. CHROME names the browser. A message
// that has no blocks is shown as plain text, as Slack shows it.
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import puppeteer from 'puppeteer-core'
import { createElement as h } from 'react'
import { renderToStaticMarkup } from 'react-dom/server'

// The library is loaded as CommonJS: its module build needs a bundler.
const require = createRequire(import.meta.url)
const { Message } = require('slack-blocks-to-jsx')
const styles = [require.resolve('slack-blocks-to-jsx/dist/style.css'), new URL('page.css', import.meta.url)]
  .map((file) => readFileSync(file, 'utf8')).join('\n')

const width = 390

// What the library leaves out of a form: that a field may stay empty.
const marked = (block) =>
  block.type === 'input' && block.optional
    ? { ...block, label: { ...block.label, text: block.label.text + ' (optional)' } }
    : block

const draw = (blocks) => h('div', { className: 'blocks' }, h(Message, { blocks: blocks.map(marked), withoutWrapper: true, theme: 'light', name: '', logo: '' }))

const message = (m, i) =>
  h('div', { className: 'message', key: i },
    h('div', { className: 'face' + (m.blocks ? ' bot' : '') }, m.from[0].toUpperCase()),
    h('div', { className: 'body' },
      h('div', { className: 'from' }, h('b', null, m.from), h('span', null, m.time)),
      m.blocks?.length ? draw(m.blocks) : h('div', { className: 'typed' }, m.text)))

const bar = (left, title, right) =>
  h('div', { className: 'bar' }, h('span', null, left), h('b', null, title), h('span', { className: 'send' }, right))

function page({ messages, view }) {
  if (!view) return h('div', { className: 'thread' }, messages.map(message))
  if (view.type === 'home') return h('div', { className: 'view home' }, draw(view.blocks))
  return h('div', { className: 'view' }, bar(view.close?.text, view.title.text, view.submit?.text), draw(view.blocks))
}

const [, , from, to] = process.argv
const browser = await puppeteer.launch({ executablePath: process.env.CHROME, args: ['--no-sandbox', '--font-render-hinting=none'] })
try {
  const tab = await browser.newPage()
  await tab.setViewport({ width, height: 80, deviceScaleFactor: 1.5 })
  for (const picture of JSON.parse(readFileSync(from, 'utf8'))) {
    await tab.setContent(`<!doctype html><meta charset="utf-8"><style>${styles}</style>${renderToStaticMarkup(page(picture))}`)
    await tab.screenshot({ path: join(to, picture.name + '.png'), fullPage: true })
  }
} finally {
  await browser.close()
}
