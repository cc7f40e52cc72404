// Slack's own receiver of requests, which answers each with what it understood.
// It prints its port, and ends when its input does.
const { HTTPReceiver } = require('@slack/bolt');

const quiet = { debug() {}, info() {}, warn() {}, error() {}, setLevel() {}, getLevel() {}, setName() {} };
const receiver = new HTTPReceiver({
  signingSecret: process.env.SECRET,
  endpoints: ['/slack'],
  logger: quiet,
  bodyLimit: 1 << 20,
});
receiver.init({
  processEvent: (event) => event.ack({ body: event.body, num: event.retryNum, reason: event.retryReason }),
});
receiver.start({ port: 0, host: '127.0.0.1' }).then((server) => console.log(server.address().port));
process.stdin.on('end', () => process.exit(0)).resume();
