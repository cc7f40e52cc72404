// A client on Slack's own SocketModeClient. It prints what it sees, one JSON
// object a line, acknowledges all but a text of "no ack" that comes for the
// first three times, and leaves when its input ends.
const { SocketModeClient } = require('@slack/socket-mode');

const [slackApiUrl, appToken] = process.argv.slice(2);
const client = new SocketModeClient({ appToken, clientOptions: { slackApiUrl }, clientPingTimeout: 400, logLevel: 'error' });
const say = (o) => console.log(JSON.stringify(o));

client.on('connected', () => say({ connected: true }));
client.on('slack_event', async ({ ack, type, body, retry_num, retry_reason, accepts_response_payload }) => {
  const text = body?.event?.text ?? body?.text ?? '';
  say({ type, text, retry_num, retry_reason, accepts_response_payload });
  if (text === 'no ack' && retry_num < 3) return;
  await ack(type === 'slash_commands' ? { text: 'you said ' + text } : undefined);
});
process.stdin.resume();
process.stdin.on('end', async () => {
  await client.disconnect();
  process.exit(0);
});
client.start();
