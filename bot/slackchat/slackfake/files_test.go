package slackfake_test

import (
	"bytes"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"ferrule/bot/slackchat/slackfake"

	"github.com/slack-go/slack"
)

func TestUploadsAreSeenLater(t *testing.T) {
	fake := workspace(t, slackfake.Options{ShareDelay: 100 * time.Millisecond})
	api := client(fake)
	root := ok[string](t)(fake.Say(faults, ada, "chart, please", ""))
	f, err := api.UploadFile(slack.UploadFileParameters{
		Filename: "week.png", FileSize: 4, Reader: strings.NewReader("\x89PNG"), Title: "The week", Channel: faults, ThreadTimestamp: root, InitialComment: "here",
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(fake.Replies(faults, root)); n != 0 {
		t.Error("the share is there with the answer")
	}
	info, _, _, err := api.GetFileInfo(f.ID, 0, 0)
	if err != nil || len(info.Shares.Public) != 0 || info.Title != "The week" || info.Size != 4 {
		t.Errorf("before it is shared: %+v, %v", info, err)
	}
	wait(t, fake, "the share", func() bool { return len(fake.Replies(faults, root)) == 1 })
	m := fake.Replies(faults, root)[0]
	if m.Subtype != "file_share" || m.Text != "here" || len(m.Files) != 1 || m.Files[0] != f.ID {
		t.Errorf("the share is %+v", m)
	}
	if info, _, _, err = api.GetFileInfo(f.ID, 0, 0); err != nil || info.Shares.Public[faults][0].Ts != m.TS {
		t.Errorf("after it is shared: %+v, %v", info, err)
	}
}

func TestUploadsOfAnotherLengthFail(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	_, err := api.UploadFile(slack.UploadFileParameters{Filename: "a.txt", FileSize: 5, Reader: strings.NewReader("four"), Channel: faults})
	if err == nil || !strings.Contains(err.Error(), "500") {
		t.Errorf("a shorter upload gives %v", err)
	}
	if out, _ := call(t, fake, "files.getUploadURLExternal", asForm, fake.BotToken(), "filename=a.txt&length=0"); out["error"] != "invalid_arguments" {
		t.Errorf("a length of 0 gives %v", out)
	}
	if out, _ := call(t, fake, "files.completeUploadExternal", asJSON, fake.BotToken(), `{"files":[{"id":"F0"}]}`); out["error"] != "file_not_found" {
		t.Errorf("completing nothing gives %v", out)
	}
}

// A file comes to whoever shows the token; everybody else gets a page to sign in,
// as a success.
func TestDownloadsNeedTheToken(t *testing.T) {
	fake := workspace(t, slackfake.Options{})
	api := client(fake)
	content := []byte("\x89PNG and more")
	ok[string](t)(fake.Share(faults, ada, []slackfake.File{{Name: "panel door.png", MIME: "image/png", Content: content}}, "", ""))
	info, _, _, err := api.GetFileInfo(fake.Messages(faults)[0].Files[0], 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	var got bytes.Buffer
	if err := api.GetFile(info.URLPrivateDownload, &got); err != nil || !bytes.Equal(got.Bytes(), content) {
		t.Errorf("downloading gives %q, %v", got.Bytes(), err)
	}
	resp, err := http.Get(info.URLPrivateDownload)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	page, _ := io.ReadAll(resp.Body)
	if resp.StatusCode != 200 || !strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") || bytes.Contains(page, content) {
		t.Errorf("without a token: %s, %q", resp.Status, page)
	}
}
