// A bot on Slack's own framework: it answers mentions in their thread, opens a
// form from a button and from a command, checks it, publishes a home page and
// uploads a file. It leaves when its input ends.
const { App, SocketModeReceiver } = require('@slack/bolt');

const [slackApiUrl, appToken, token] = process.argv.slice(2);
const clientOptions = { slackApiUrl };
const receiver = new SocketModeReceiver({ appToken, installerOptions: { clientOptions }, logLevel: 'error' });
const app = new App({ token, receiver, clientOptions, logLevel: 'error' });
const plain = (text) => ({ type: 'plain_text', text });

const view = {
  type: 'modal',
  callback_id: 'readings',
  title: plain('Readings'),
  submit: plain('Send'),
  blocks: [{ type: 'input', block_id: 'level', label: plain('Level'), element: { type: 'number_input', action_id: 'value', is_decimal_allowed: true } }],
};

app.event('app_mention', async ({ event, say }) => {
  await say({
    thread_ts: event.thread_ts ?? event.ts,
    text: 'heard',
    blocks: [
      { type: 'section', text: { type: 'mrkdwn', text: 'heard' } },
      { type: 'actions', elements: [{ type: 'button', action_id: 'fill', value: '17', text: plain('Fill in') }] },
    ],
  });
});
app.action('fill', async ({ ack, body, client }) => {
  await ack();
  await client.views.open({ trigger_id: body.trigger_id, view });
});
app.view('readings', async ({ ack, view }) => {
  const value = Number(view.state.values.level.value.value);
  await ack(value > 100 ? { response_action: 'errors', errors: { level: 'at most 100' } } : undefined);
});
app.command('/ferrule', async ({ ack, command, client, respond }) => {
  await ack();
  if (command.text === 'chart') {
    await client.filesUploadV2({ channel_id: command.channel_id, filename: 'week.svg', file: Buffer.from('<svg/>'), initial_comment: 'the week' });
    return;
  }
  await respond({ text: 'you said ' + command.text, response_type: 'ephemeral' });
});
app.event('app_home_opened', async ({ event, client }) => {
  await client.views.publish({ user_id: event.user, view: { type: 'home', blocks: [{ type: 'divider' }] } });
});

app.error(async (e) => console.error('ERROR', e));
process.stdin.resume();
process.stdin.on('end', async () => {
  await app.stop();
  process.exit(0);
});
app.start();
