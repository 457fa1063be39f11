module throughline

go 1.26.0

require (
	github.com/alexedwards/argon2id v1.0.0 // hashes passwords
	github.com/alexedwards/scs/v2 v2.9.0 // sessions of people who have signed in
	github.com/chromedp/cdproto v0.159.0 // what a browser is told, to print or to test
	github.com/chromedp/chromedp v0.23.0 // prints papers as PDF with a Chromium; drives a browser through pages, for tests
	github.com/danielgtaylor/huma/v2 v2.37.2 // describes and checks the REST service (OpenAPI 3.1)
	github.com/gin-gonic/gin v1.12.0 // routes requests
	github.com/go-echarts/go-echarts/v2 v2.6.7 // says what a chart shows
	github.com/go-json-experiment/json v0.0.0-20260213210345-44df1a37e875 // reads JSON strictly and writes it without null
	github.com/jackc/pgx/v5 v5.11.0 // speaks to PostgreSQL
	github.com/klauspost/compress v1.20.1 // compresses answers and archives
	github.com/libtnb/sqlite v1.2.2 // SQLite for GORM, without cgo
	github.com/pelletier/go-toml/v2 v2.2.4 // the file of settings
	github.com/pquerna/otp v1.5.0 // one-time codes of a second factor (RFC 6238), and the picture to scan
	github.com/pressly/goose/v3 v3.29.0 // migrations
	github.com/prometheus/client_golang v1.23.2 // figures for who watches the server
	github.com/riverqueue/river v0.51.2 // background jobs, kept in the database
	github.com/riverqueue/river/riverdriver v0.51.2 // what background jobs need of a database
	github.com/riverqueue/river/riverdriver/riverdatabasesql v0.51.2 // background jobs on PostgreSQL
	github.com/riverqueue/river/riverdriver/riversqlite v0.51.2 // background jobs on SQLite
	github.com/riverqueue/river/rivertype v0.51.2 // background jobs as they are kept
	github.com/santhosh-tekuri/jsonschema/v5 v5.3.1 // checks answers against the description, for tests
	github.com/schollz/progressbar/v3 v3.19.1 // how far a long command is
	github.com/spf13/cobra v1.10.2 // the command line
	github.com/spf13/pflag v1.0.10 // its options
	github.com/trustelem/zxcvbn v1.0.1 // tells passwords that are common or soon guessed
	github.com/xo/echartsgoja v0.1.1 // draws charts on the server; carries Apache ECharts (Apache-2.0)
	go.uber.org/goleak v1.3.0 // finds what a stopped server leaves running, for tests
	golang.org/x/net v0.61.0 // reads rendered pages, for readers who sort tables without scripts
	golang.org/x/sync v0.24.0 // work on all cores, up to the first error
	golang.org/x/term v0.47.0 // tells whether output goes to a terminal
	golang.org/x/text v0.43.0 // names in imported files: the same letters written in two ways
	golang.org/x/time v0.15.0 // limits how often a caller asks
	gonum.org/v1/gonum v0.17.0 // linear algebra, optimisation and distributions of the trends
	gorm.io/driver/postgres v1.6.3 // PostgreSQL for GORM
	gorm.io/gorm v1.31.2 // maps records to rows
	modernc.org/sqlite v1.60.1 // SQLite itself, in Go
)

require (
	github.com/BurntSushi/toml v1.4.1-0.20240526193622-a339e1f7089c // indirect
	github.com/beorn7/perks v1.0.1 // indirect
	github.com/boombuler/barcode v1.0.1-0.20190219062509-6c824513bacc // indirect
	github.com/bytedance/gopkg v0.1.3 // indirect
	github.com/bytedance/sonic v1.15.0 // indirect
	github.com/bytedance/sonic/loader v0.5.0 // indirect
	github.com/cespare/xxhash/v2 v2.3.0 // indirect
	github.com/cloudwego/base64x v0.1.6 // indirect
	github.com/dlclark/regexp2 v1.10.0 // indirect
	github.com/dop251/goja v0.0.0-20231027120936-b396bb4c349d // indirect
	github.com/dop251/goja_nodejs v0.0.0-20231122114759-e84d9a924c5c // indirect
	github.com/dustin/go-humanize v1.1.0 // indirect
	github.com/gabriel-vasile/mimetype v1.4.13 // indirect
	github.com/gin-contrib/sse v1.1.0 // indirect
	github.com/go-playground/locales v0.14.1 // indirect
	github.com/go-playground/universal-translator v0.18.1 // indirect
	github.com/go-playground/validator/v10 v10.30.1 // indirect
	github.com/go-sourcemap/sourcemap v2.1.3+incompatible // indirect
	github.com/goccy/go-json v0.10.5 // indirect
	github.com/goccy/go-yaml v1.19.2 // indirect
	github.com/google/pprof v0.0.0-20260802141513-ef3492d7dac3 // indirect
	github.com/google/uuid v1.6.0 // indirect
	github.com/inconshreveable/mousetrap v1.1.0 // indirect
	github.com/jackc/pgpassfile v1.0.0 // indirect
	github.com/jackc/pgservicefile v0.0.0-20240606120523-5a60cdf6a761 // indirect
	github.com/jackc/puddle/v2 v2.2.3 // indirect
	github.com/jinzhu/inflection v1.0.0 // indirect
	github.com/jinzhu/now v1.1.5 // indirect
	github.com/json-iterator/go v1.1.12 // indirect
	github.com/klauspost/cpuid/v2 v2.3.0 // indirect
	github.com/leodido/go-urn v1.4.0 // indirect
	github.com/lib/pq v1.12.3 // indirect
	github.com/mattn/go-isatty v0.0.24 // indirect
	github.com/mfridman/interpolate v0.0.2 // indirect
	github.com/mitchellh/colorstring v0.0.0-20190213212951-d06e56a500db // indirect
	github.com/modern-go/concurrent v0.0.0-20180306012644-bacd9c7ef1dd // indirect
	github.com/modern-go/reflect2 v1.0.2 // indirect
	github.com/munnerz/goautoneg v0.0.0-20191010083416-a7dc8b61c822 // indirect
	github.com/ncruces/go-strftime v1.1.0 // indirect
	github.com/prometheus/client_model v0.6.2 // indirect
	github.com/prometheus/common v0.66.1 // indirect
	github.com/prometheus/procfs v0.22.0 // indirect
	github.com/quic-go/qpack v0.6.0 // indirect
	github.com/quic-go/quic-go v0.59.0 // indirect
	github.com/remyoudompheng/bigfft v0.0.0-20230129092748-24d4a6f8daec // indirect
	github.com/riverqueue/river/riverdriver/riverpgxv5 v0.51.2 // indirect
	github.com/riverqueue/river/rivershared v0.51.2 // indirect
	github.com/rivo/uniseg v0.4.7 // indirect
	github.com/sethvargo/go-retry v0.5.0 // indirect
	github.com/test-go/testify v1.1.4 // indirect
	github.com/tidwall/gjson v1.20.0 // indirect
	github.com/tidwall/match v1.2.0 // indirect
	github.com/tidwall/pretty v1.2.1 // indirect
	github.com/tidwall/sjson v1.2.5 // indirect
	github.com/twitchyliquid64/golang-asm v0.15.1 // indirect
	github.com/ugorji/go/codec v1.3.1 // indirect
	go.mongodb.org/mongo-driver/v2 v2.5.0 // indirect
	go.uber.org/multierr v1.11.0 // indirect
	go.yaml.in/yaml/v2 v2.4.2 // indirect
	golang.org/x/arch v0.24.0 // indirect
	golang.org/x/crypto v0.58.0 // indirect
	golang.org/x/exp/typeparams v0.0.0-20231108232855-2478ac86f678 // indirect
	golang.org/x/mod v0.42.0 // indirect
	golang.org/x/sys v0.49.0 // indirect
	golang.org/x/tools v0.51.0 // indirect
	google.golang.org/protobuf v1.36.12 // indirect
	honnef.co/go/tools v0.8.2 // indirect
	modernc.org/libc v1.78.0 // indirect
	modernc.org/mathutil v1.7.1 // indirect
	modernc.org/memory v1.12.1 // indirect
)

tool honnef.co/go/tools/cmd/staticcheck
