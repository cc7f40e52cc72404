package review_test

import "testing/fstest"

func oneFile(src string) fstest.MapFS { return fstest.MapFS{"p.yaml": {Data: []byte(src)}} }
